"""Rests that are reached by hot water: how much of it, and what that leaves for filling and rinsing."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kettlebridge.brewing.brew_sheet import Sheet, brew_sheet
from kettlebridge.brewing.day import Day
from kettlebridge.brewing.day_profile import profile_of
from kettlebridge.brewing.mash import water_capacity_j_per_k
from kettlebridge.brewing.timetable import Phase
from kettlebridge.brewing.vessel import covered_loss_w_per_k
from kettlebridge.brewing.water_plan import INFUSE_MIN, mash_j_per_k
from kettlebridge.core.validation import misfits
from kettlebridge.files.examples import config_folder
from kettlebridge.files.profile_text import profile_text
from kettlebridge.model.plan import AskKind, AskStep, RestStep
from kettlebridge.model.recipe import Mash, Recipe, Rest, Way
from tests.brewing.sheets import kettle, recipe
from tests.files.loader import Loader

BEST = recipe("towpath_best")
LOCK = kettle("lockhouse")
STEPS = ((52.0, Way.HEAT), (63.0, Way.INFUSION), (70.0, Way.INFUSION), (76.0, Way.HEAT))


def stepped(one: Recipe = BEST, **changes: float) -> Recipe:
    rests = tuple(Rest(name=f"Rest {at_c:g}", at_c=at_c, for_min=20.0, by=by) for at_c, by in STEPS)
    mash = Mash(rests=rests, water_l_per_kg=2.5, sparges=True, sparge_c=75.0, infusion_c=98.0)
    return replace(one, mash=replace(mash, **changes))  # type: ignore[arg-type]  # numbers and a switch of a mash


def of(one: Recipe) -> Sheet:
    return brew_sheet(one, LOCK, Day())


def test_each_infusion_closes_its_balance_of_heat() -> None:
    sheet = of(stepped())
    mash = sheet.recipe.mash
    assert mash is not None
    assert [bool(litres) for litres in sheet.water.infusions_l] == [False, True, True, False]
    for nth in (1, 2):
        before, before_c = mash_j_per_k(sheet.water, LOCK, nth - 1), mash.rests[nth - 1].at_c
        lost_j = covered_loss_w_per_k(LOCK, before_c, 20.0) * (before_c - 20.0) * 60.0 * INFUSE_MIN
        poured = water_capacity_j_per_k(sheet.water.infusions_l[nth])
        mixed_c = (before * before_c - lost_j + poured * 98.0) / (before + poured)
        assert mixed_c == pytest.approx(mash.rests[nth].at_c, abs=1e-9)


@pytest.mark.parametrize("one", [stepped(), stepped(sparges=False), BEST])
def test_filling_infusions_and_sparge_are_all_the_water_there_is(one: Recipe) -> None:
    sheet = of(one)
    assert sheet.water.mash_l + sheet.water.sparge_l == pytest.approx(sheet.litres.total_water_l, abs=1e-9)
    assert sheet.water.sparge_l == 0.0 or one.mash is None or one.mash.sparges


def test_without_a_sparge_the_filling_leaves_room_for_what_is_poured_in_later() -> None:
    sheet = of(stepped(sparges=False))
    assert sheet.water.fill_l + sheet.water.infusions_l[1] + sheet.water.infusions_l[2] == pytest.approx(
        sheet.litres.total_water_l
    )


def test_a_small_kettle_is_filled_less_so_that_the_infusions_fit() -> None:
    small = replace(LOCK, capacity_l=13.0)
    sheet = brew_sheet(stepped(), small, Day())
    assert sheet.water.fill_l < 2.5 * sheet.water.grain_kg
    mashed = next(mark for mark in sheet.marks if mark.kind.value == "infused")
    assert mashed.read_l < small.capacity_l


def test_no_water_is_poured_in_hotter_than_it_boils() -> None:
    saddle = kettle("saddle")
    sheet = brew_sheet(stepped(infusion_c=100.0), saddle, Day())
    assert {each.water_c for each in sheet.infusions} == {saddle.boil_c}


def test_more_infusion_than_the_day_has_water_is_no_day() -> None:
    with pytest.raises(ValueError, match=r"infusions take more than the 24\.\d L"):
        of(stepped(infusion_c=70.2))


def test_the_pot_is_put_on_in_time_for_each_infusion() -> None:
    sheet = of(stepped())
    begins = [slot.begin_min for slot in sheet.slots if slot.phase is Phase.INFUSE]
    assert len(begins) == 2
    for infusion, begin_min in zip(sheet.infusions, begins, strict=True):
        assert 0.0 < infusion.pot_begin_min < begin_min


def test_the_profile_asks_for_each_infusion_before_its_rest_and_is_complete(loader: Loader) -> None:
    sheet = of(stepped())
    profile = profile_of(sheet)
    assert misfits(LOCK, profile) == ()
    loaded = loader.profile(profile_text(profile))
    assert loaded.steps == profile.steps
    places = [
        nth for nth, step in enumerate(profile.steps) if isinstance(step, AskStep) and step.what is AskKind.INFUSE
    ]
    assert len(places) == 2
    for place, at_c in zip(places, (63.0, 70.0), strict=True):
        ask, rest = profile.steps[place : place + 2]
        assert isinstance(ask, AskStep)
        assert isinstance(rest, RestStep)
        assert (ask.water_c, rest.at_c) == (98.0, at_c)
        assert rest.pump_after_min  # a stirred bed lies before it is pumped through
    assert profile.infused_l == pytest.approx(sheet.water.mash_l - sheet.water.fill_l, abs=0.02)


def test_the_example_profile_is_the_day_that_its_recipe_makes() -> None:
    written = (config_folder() / "profiles" / "towpath_best.toml").read_text(encoding="utf-8")
    lines = written.splitlines(keepends=True)
    assert "".join(line for line in lines if not line.startswith("#")).lstrip() == profile_text(profile_of(of(BEST)))
