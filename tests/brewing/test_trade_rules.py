"""Rules of the trade (common practice, no source), held against every example recipe in every kettle that it fits.

Sheet and ledger keep them, or the sheet says why not.
"""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache

import pytest

from kettlebridge.brewing.brew_sheet import Sheet, brew_sheet
from kettlebridge.brewing.cautions import cautions
from kettlebridge.brewing.day import Day
from kettlebridge.brewing.day_profile import profile_of
from kettlebridge.brewing.timetable import Phase
from kettlebridge.brewing.vessel import surface_m2
from kettlebridge.core.ledger import EMPTY, Ledger, after_ask
from kettlebridge.model.kettle import ChillWay
from kettlebridge.model.plan import (
    AdditionKind,
    AskKind,
    AskStep,
    BoilStep,
    CirculateStep,
    Plan,
)
from kettlebridge.model.recipe import AdditionUse
from tests.brewing.sheets import kettle, pairs_that_fit, recipe, sheet

PAIRS = pairs_that_fit()
MASHED = [pair for pair in PAIRS if sheet(*pair).recipe.mash is not None]
USUAL_SHARE = (0.77, 0.88)
"""About 80 to 85 %."""
SPARGE_STANDS_MM = 25.0
CHILLER_MIN = 10.0
CLEARING_MIN = (5.0, 15.0)
"""About ten."""
CLEANING_MIN = (20.0, 25.0)


def codes(one: Sheet) -> set[str]:
    return {caution.code for caution in cautions(one)}


@cache
def ledgers(pair: tuple[str, str]) -> dict[AskKind, tuple[Ledger, Ledger]]:
    """Before and after each ask of the sheet's own day is confirmed, without what boils away."""
    plan = Plan(kettle=sheet(*pair).kettle, profile=profile_of(sheet(*pair)))
    seen: dict[AskKind, tuple[Ledger, Ledger]] = {}
    ledger = EMPTY
    for step in plan.profile.steps:
        if isinstance(step, AskStep):
            before, ledger = ledger, after_ask(ledger, plan, step, None, 0.0)
            seen.setdefault(step.what, (before, ledger))
    return seen


@pytest.mark.parametrize("pair", MASHED)
def test_a_lifted_bed_gives_back_four_fifths_of_its_water_or_the_sheet_says_why_not(pair: tuple[str, str]) -> None:
    one, (before, after) = sheet(*pair), ledgers(pair)[AskKind.LIFT]
    assert before.volume_l is not None
    assert after.volume_l is not None
    by_ledger = after.volume_l / before.volume_l
    assert by_ledger == pytest.approx(1.0 - one.litres.absorbed_l / one.water.mash_l, abs=2e-3)
    assert (USUAL_SHARE[0] <= by_ledger <= USUAL_SHARE[1]) is ("gives_back" not in codes(one))


@pytest.mark.parametrize("pair", MASHED)
def test_ledger_and_sheet_agree_on_the_litres_before_the_boil(pair: tuple[str, str]) -> None:
    _, away = ledgers(pair)[AskKind.BASKET_AWAY]
    assert away.volume_l == pytest.approx(sheet(*pair).litres.pre_boil_l, abs=0.03)


def test_most_examples_are_usual_and_one_is_not() -> None:
    """Else the rules above would say nothing."""
    odd = {pair for pair in MASHED if "gives_back" in codes(sheet(*pair))}
    assert odd == {("landing_saison", "ferryman")}


@pytest.mark.parametrize("pair", [pair for pair in MASHED if sheet(*pair).water.sparge_l])
def test_sparge_water_stands_no_more_than_a_finger_above_the_bed(pair: tuple[str, str]) -> None:
    one = sheet(*pair)
    sparge = next(step for step in profile_of(one).steps if isinstance(step, AskStep) and step.what is AskKind.SPARGE)
    said = re.search(r"at most (\d+\.\d) L at once", sparge.text)
    assert said is not None
    stands_mm = float(said[1]) / surface_m2(one.kettle)
    assert stands_mm == pytest.approx(SPARGE_STANDS_MM, abs=0.06 / surface_m2(one.kettle))


@pytest.mark.parametrize("pair", PAIRS)
def test_boiling_wort_sanitises_the_chiller_in_the_last_ten_minutes_or_the_brewer_is_told_how(
    pair: tuple[str, str],
) -> None:
    one = sheet(*pair)
    steps = profile_of(one).steps
    (boil,) = (step for step in steps if isinstance(step, BoilStep))
    if one.kettle.chill is ChillWay.IN_LINE and one.kettle.has_pump:
        assert boil.sanitise_last_min == min(CHILLER_MIN, boil.for_min)
        return
    assert boil.sanitise_last_min is None
    told = " ".join(step.text for step in steps[: steps.index(boil)] if isinstance(step, AskStep))
    assert f"coil goes into the boil {CHILLER_MIN:g} min before its end" in told


def test_a_chiller_that_no_pump_reaches_is_to_be_sanitised_beforehand() -> None:
    one = brew_sheet(recipe("corvane_pale"), replace(kettle("ferryman"), has_pump=False), Day())
    told = " ".join(step.text for step in profile_of(one).steps if isinstance(step, AskStep))
    assert "No pump runs boiling wort through the chiller" in told


@pytest.mark.parametrize("pair", PAIRS)
def test_finings_and_nutrient_go_in_ten_minutes_before_the_end_or_the_sheet_says_otherwise(
    pair: tuple[str, str],
) -> None:
    one = sheet(*pair)
    (boil,) = (step for step in profile_of(one).steps if isinstance(step, BoilStep))
    times = [
        each.before_end_min for each in boil.additions if each.kind in {AdditionKind.FINING, AdditionKind.NUTRIENT}
    ]
    usual = all(CLEARING_MIN[0] <= at_min <= CLEARING_MIN[1] for at_min in times)
    assert usual is ("cleared_at" not in codes(one))


def test_some_examples_have_finings_and_nutrient_in_the_boil() -> None:
    kinds = {each.kind for pair in PAIRS for each in sheet(*pair).recipe.additions if each.use is AdditionUse.BOIL}
    assert {AdditionKind.FINING, AdditionKind.NUTRIENT} <= kinds


@pytest.mark.parametrize("pair", PAIRS)
def test_cleaning_takes_twenty_to_twenty_five_minutes(pair: tuple[str, str]) -> None:
    one = sheet(*pair)
    slot = next(slot for slot in one.slots if slot.phase is Phase.CLEAN)
    assert CLEANING_MIN[0] <= slot.for_min <= CLEANING_MIN[1]
    cleans = [step.for_min for step in profile_of(one).steps if isinstance(step, CirculateStep)]
    assert [CLEANING_MIN[0] <= minutes <= CLEANING_MIN[1] for minutes in cleans] == [True] * one.kettle.has_pump
