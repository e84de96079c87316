"""Each caution is raised by what it warns of, and by nothing else."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kettlebridge.brewing.brew_sheet import Sheet, brew_sheet
from kettlebridge.brewing.cautions import CAUTIONS, cautions, fits
from kettlebridge.brewing.day import Day
from kettlebridge.brewing.scaling import scaled
from kettlebridge.documents.caution_words import CAUTION_WORDS, caution_words
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.plan import AdditionKind
from kettlebridge.model.recipe import Mash, Recipe, Rest, Stand, Targets
from tests.brewing.sheets import every_pair, kettle, recipe, sheet

PALE, SADDLE = recipe("corvane_pale"), kettle("saddle")
FINING = next(each for each in PALE.additions if each.kind is AdditionKind.FINING)


def mash(*rests: tuple[float, float], litres_per_kg: float = 3.7) -> Mash:
    return Mash(
        rests=tuple(Rest(name="Rest", at_c=at_c, for_min=for_min) for at_c, for_min in rests),
        water_l_per_kg=litres_per_kg,
        sparges=True,
        sparge_c=75.0,
    )


def of(one: Recipe = PALE, vessel: Kettle = SADDLE, day: Day | None = None) -> Sheet:
    return brew_sheet(one, vessel, day or Day())


CASES: dict[str, Sheet] = {
    "over_the_rim": of(scaled(PALE, 35.0)),
    "basket_too_full": of(vessel=replace(SADDLE, under_basket_l=24.0)),
    "element_bare": of(vessel=replace(SADDLE, element_cover_l=14.0)),
    "grain_dry": of(scaled(PALE, 90.0)),
    "strike_out_of_reach": of(replace(PALE, mash=mash((78.0, 60.0), litres_per_kg=1.6))),
    "stand_over_boil": of(replace(PALE, stand=Stand(at_c=95.0, for_min=25.0))),
    "stronger_than_mash": of(replace(PALE, efficiency_fraction=1.0, mash=replace(mash((66.0, 60.0)), sparges=False))),
    "no_head_space": of(scaled(PALE, 21.0)),
    "odd_ratio": of(replace(PALE, mash=mash((66.0, 60.0), litres_per_kg=2.0))),
    "thicker_than_wished": of(scaled(PALE, 33.0)),
    "odd_absorption": of(vessel=replace(SADDLE, grain_absorption_l_per_kg=1.5)),
    "gives_back": of(replace(PALE, mash=mash((66.0, 60.0), litres_per_kg=2.5))),
    "little_conversion": of(replace(PALE, mash=mash((52.0, 60.0), (66.0, 10.0)))),
    "mash_out_hot": of(replace(PALE, mash=mash((66.0, 60.0), (80.0, 5.0)))),
    "strike_hot": of(replace(PALE, mash=mash((72.0, 60.0), litres_per_kg=1.6)), day=Day(grain_c=-5.0)),
    "cleared_at": of(replace(PALE, additions=(replace(FINING, before_end_min=45.0),))),
    "boil_off_beyond_heater": of(vessel=replace(SADDLE, boil_off_l_per_h=6.0)),
    "cooling_water_warm": of(day=Day(tap_c=24.0)),
    "pitch_small": of(replace(PALE, yeast=replace(PALE.yeast, cells_billion=40.0))),
    "gravity_differs": of(replace(PALE, targets=Targets(original_sg=1.060))),
    "bitterness_differs": of(replace(PALE, targets=Targets(bitterness_ibu=20.0))),
    "colour_differs": of(replace(PALE, targets=Targets(colour_ebc=30.0))),
}


def codes(found: Sheet) -> set[str]:
    return {caution.code for caution in cautions(found)}


def test_plain_day_has_no_caution() -> None:
    assert codes(of()) == set()
    assert fits(of())


def test_every_caution_has_a_case_and_words() -> None:
    rows = [row.code for row in CAUTIONS]
    assert rows == list(CASES) == list(CAUTION_WORDS)


@pytest.mark.parametrize("code", CASES)
def test_caution_is_raised_by_what_it_warns_of(code: str) -> None:
    assert code in codes(CASES[code])


@pytest.mark.parametrize("code", CASES)
def test_what_stops_the_day_is_no_fit(code: str) -> None:
    stops = {row.code for row in CAUTIONS if row.stops}
    assert fits(CASES[code]) == (not codes(CASES[code]) & stops)


@pytest.mark.parametrize(("recipe_name", "kettle_name"), every_pair())
def test_words_of_every_caution_hold_its_figures(recipe_name: str, kettle_name: str) -> None:
    for caution in cautions(sheet(recipe_name, kettle_name)):
        words = caution_words(caution)
        assert "{" not in words
        assert any(character.isdigit() for character in words)


def test_what_stops_comes_first() -> None:
    found = cautions(CASES["grain_dry"])
    assert [caution.stops for caution in found] == sorted((caution.stops for caution in found), reverse=True)


def test_bock_for_the_ferryman_wants_more_yeast_and_colder_water() -> None:
    """A lager of 16 °P wants 1.5 million cells per mL and °P (Fix): nearly twice what its recipe pitches."""
    assert codes(sheet("ferry_bock", "ferryman")) == {"cooling_water_warm", "pitch_small"}
