"""What mends a day does mend it: each advice is put back into the balance it came from."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import kettlebridge.brewing
from kettlebridge.brewing.brew_sheet import Sheet
from kettlebridge.brewing.extract import plato_of
from kettlebridge.brewing.gravity import extract_kg, plato, sg
from kettlebridge.brewing.mash import mash_room_l, water_capacity_j_per_k
from kettlebridge.brewing.rescue import Advice, Rescue
from kettlebridge.brewing.rescue_boil import boiled_over, late_hop, wort_before_the_boil
from kettlebridge.brewing.rescue_mash import missed_dough_in, stuck_mash
from kettlebridge.brewing.vessel import steel_j_per_k
from kettlebridge.brewing.water import hot_litres
from kettlebridge.brewing.water_plan import mash_j_per_k
from kettlebridge.documents.rescue_words import RESCUE_WORDS, rescue_words
from tests.brewing.sheets import sheet


@pytest.fixture
def day() -> Sheet:
    return sheet("corvane_pale", "saddle")


def mend(rescue: Rescue, *codes: str) -> Advice:
    return next(each for each in rescue.mends if each.code in codes)


@pytest.mark.parametrize("found_c", [60.0, 64.0, 68.0, 72.0])
def test_water_for_a_missed_mash_brings_it_to_the_first_rest(day: Sheet, found_c: float) -> None:
    water = mend(missed_dough_in(day, found_c), "water_off_the_sparge", "water_and_boil_longer")
    mash = mash_j_per_k(day.water, day.kettle)
    poured = water_capacity_j_per_k(water.get("litres"))
    mixed_c = (mash * found_c + poured * water.get("water_c")) / (mash + poured)
    assert mixed_c == pytest.approx(66.0, abs=1e-6)


@pytest.mark.parametrize("found_c", [40.0, 52.0, 62.0])
def test_a_part_of_a_cold_mash_that_is_boiled_brings_it_to_the_first_rest(day: Sheet, found_c: float) -> None:
    """The steel gives no part of itself to the pot, and is warmed with the rest."""
    advice = mend(missed_dough_in(day, found_c), "decoction")
    whole, steel = mash_j_per_k(day.water, day.kettle), steel_j_per_k(day.kettle)
    boiled = advice.get("percent") / 100.0 * (whole - steel)
    assert (boiled * day.kettle.boil_c + (whole - boiled) * found_c) / whole == pytest.approx(66.0, abs=1e-6)
    in_mash_l = mash_room_l(hot_litres(day.water.fill_l, found_c), day.water.grain_kg)
    assert advice.get("litres") == pytest.approx(advice.get("percent") / 100.0 * in_mash_l)


def test_no_more_than_half_of_a_mash_is_boiled(day: Sheet) -> None:
    assert "decoction" not in {each.code for each in missed_dough_in(day, 20.0).mends}


def test_water_into_the_mash_is_taken_off_the_sparge(day: Sheet) -> None:
    water = mend(missed_dough_in(day, 71.0), "water_off_the_sparge")
    assert water.get("sparge_l") + water.get("litres") == pytest.approx(day.water.sparge_l)


def test_a_mash_close_to_its_rest_is_left_alone(day: Sheet) -> None:
    assert missed_dough_in(day, 66.4).mends == ()
    assert missed_dough_in(day, 66.4).unmended.code == "near_enough"


def test_a_hot_mash_is_never_told_to_heat(day: Sheet) -> None:
    assert {each.code for each in missed_dough_in(day, 71.0).mends} == {"water_off_the_sparge"}
    assert missed_dough_in(day, 71.0).unmended.code == "hot_beta_gone"


def test_more_water_than_the_kettle_has_room_for_is_said_and_not_advised(day: Sheet) -> None:
    water = mend(missed_dough_in(day, 40.0), "no_room")
    assert water.get("litres") > water.get("room_l")


def test_a_stuck_mash_says_when_the_pump_runs_dry(day: Sheet) -> None:
    stuck = stuck_mash(day)
    assert stuck.unmended.get("minutes") == pytest.approx(day.kettle.under_basket_l / day.kettle.pump_l_per_min)
    assert mend(stuck, "hulls").get("grams") == pytest.approx(50.0 * day.water.grain_kg)


def test_wort_as_planned_needs_nothing(day: Sheet) -> None:
    rescue = wort_before_the_boil(day, day.litres.pre_boil_l, day.gravities.pre_boil_sg)
    assert rescue.mends == ()
    assert rescue.unmended.get("original_sg") == pytest.approx(day.gravities.original_sg, abs=1e-6)
    assert rescue.unmended.get("bitterness_ibu") == pytest.approx(day.bitterness_ibu, rel=1e-6)
    assert rescue.found.get("efficiency_percent") == pytest.approx(100.0 * day.recipe.efficiency_fraction, rel=1e-6)


def test_boiling_weak_wort_longer_brings_it_to_its_gravity(day: Sheet) -> None:
    longer = mend(wort_before_the_boil(day, day.litres.pre_boil_l, 1.036), "boil_longer")
    end_l = day.litres.post_boil_l - longer.get("minutes") * day.litres.boil_off_l / day.recipe.boil_min
    end_plato = plato_of(extract_kg(day.litres.pre_boil_l, plato(1.036)), end_l)
    assert sg(end_plato) == pytest.approx(day.gravities.original_sg, abs=2e-4)  # to the whole minute
    assert longer.get("fermenter_l") == pytest.approx(day.recipe.batch_l + end_l - day.litres.post_boil_l)


def test_water_and_sugar_bring_back_both_volume_and_gravity(day: Sheet) -> None:
    found_l = day.litres.pre_boil_l - 2.0
    both = mend(wort_before_the_boil(day, found_l, 1.038), "water_and_sugar")
    assert both.get("litres") + 0.62 * both.get("grams") / 1000.0 == pytest.approx(2.0, abs=0.05)
    held_kg = extract_kg(found_l, plato(1.038)) + both.get("grams") / 1000.0
    assert plato_of(held_kg, day.litres.post_boil_l) == pytest.approx(day.gravities.post_boil_plato, abs=0.01)
    assert both.get("fermenter_l") == pytest.approx(day.litres.into_fermenter_l, abs=0.05)


def test_water_thins_strong_wort_to_its_gravity(day: Sheet) -> None:
    water = mend(wort_before_the_boil(day, day.litres.pre_boil_l, 1.050), "water")
    held_kg = extract_kg(day.litres.pre_boil_l, plato(1.050))
    end_l = day.litres.post_boil_l + water.get("litres")
    assert plato_of(held_kg, end_l) == pytest.approx(day.gravities.post_boil_plato, abs=0.05)


def test_wort_that_would_boil_dry_is_refused(day: Sheet) -> None:
    with pytest.raises(ValueError, match="boil dry"):
        wort_before_the_boil(day, 2.0, 1.040)


def test_more_hops_make_up_for_minutes(day: Sheet) -> None:
    rescue = late_hop(day, "perrin's gold", 30.0)
    line = next(each for each in day.hops if each.hop.name == "Perrin's gold")
    more = mend(rescue, "more_hops")
    left_of_it = 1.0 - rescue.unmended.get("short_ibu") / line.bitterness_ibu
    assert (line.hop.grams + more.get("grams")) * left_of_it == pytest.approx(line.hop.grams)
    assert mend(rescue, "boil_on").get("minutes") == day.recipe.boil_min - 30.0


def test_a_hop_that_was_never_due_is_refused_with_what_is_there(day: Sheet) -> None:
    with pytest.raises(ValueError, match="Perrin's gold at"):
        late_hop(day, "Nowhere", 5.0)


def test_a_boil_over_loses_wort_not_gravity(day: Sheet) -> None:
    """What goes over is as strong as what stays: only the boil-off to come makes the rest a little stronger."""
    at_the_end = boiled_over(day, 2.0, 0.0)
    assert at_the_end.unmended.get("original_sg") == pytest.approx(day.gravities.original_sg, abs=1e-5)
    assert at_the_end.unmended.get("bitterness_ibu") == pytest.approx(day.bitterness_ibu, rel=0.06)
    early = boiled_over(day, 2.0, 55.0)
    assert early.unmended.get("original_sg") > day.gravities.original_sg


def test_more_than_there_is_cannot_boil_over(day: Sheet) -> None:
    with pytest.raises(ValueError, match="more than there"):
        boiled_over(day, 99.0, 10.0)


def codes() -> set[str]:
    """Every code that the modules of the rescue write."""
    found: set[str] = set()
    for path in Path(next(iter(kettlebridge.brewing.__path__))).glob("rescue*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            value = node.value if isinstance(node, ast.keyword) and node.arg == "code" else None
            is_code = isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "code"
            value = node.value if isinstance(node, ast.Assign) and is_code else value
            halves = [value.body, value.orelse] if isinstance(value, ast.IfExp) else [value]
            found.update(str(half.value) for half in halves if isinstance(half, ast.Constant))
    return found


def test_every_advice_has_words_and_no_words_are_left_over() -> None:
    assert set(RESCUE_WORDS) == codes()


def test_no_words_lack_a_figure(day: Sheet) -> None:
    rescues = [missed_dough_in(day, at_c) for at_c in (40.0, 58.0, 64.0, 66.1, 68.0, 72.0)]
    rescues += [stuck_mash(day), late_hop(day, "Perrin's gold", 20.0), boiled_over(day, 2.0, 40.0)]
    rescues += [wort_before_the_boil(day, 21.0, gravity) for gravity in (1.034, 1.041, 1.052)]
    for rescue in rescues:
        for advice in (rescue.found, rescue.unmended, *rescue.mends):
            assert "{" not in rescue_words(advice)
