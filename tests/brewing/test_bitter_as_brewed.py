"""Each hop's bitterness follows from when it really went in and how hot the wort really was."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kettlebridge.brewing.bitter_as_brewed import hops_as_brewed
from kettlebridge.brewing.brewed import AdditionTimes, Brewed
from kettlebridge.brewing.hop_plan import HopLine
from kettlebridge.model.ids import BatchId
from kettlebridge.model.plan import StepKind
from kettlebridge.model.recipe import HopUse
from kettlebridge.model.trace import Series, Span, Trace
from tests.brewing.sheets import sheet

MILD = sheet("wick_mild", "thimble")
(HOP,) = (hop for hop in MILD.recipe.hops if hop.use is HopUse.BOIL)
BOIL_S, BOIL_ENDS_S, COLD_S, END_S = 1000.0, 4600.0, 5200.0, 9000.0


def trace(boil_c: float = 100.0) -> Trace:
    """An hour's boil, chilled in ten minutes, then an hour of cleaning at 60 °C."""
    at_s = [10.0 * n for n in range(int(END_S / 10.0) + 1)]
    return Trace(
        batch=BatchId("thimble-1"),
        series=Series(
            at_s=tuple(at_s),
            temperature_c=tuple(_c(s, boil_c) for s in at_s),
            target_c=(None,) * len(at_s),
            heater_fraction=(0.0,) * len(at_s),
        ),
        spans=(
            Span(index=0, name="Boil", kind=StepKind.BOIL, begun_s=BOIL_S, ended_s=BOIL_ENDS_S),
            Span(index=1, name="Chill", kind=StepKind.CHILL, begun_s=BOIL_ENDS_S, ended_s=COLD_S),
            Span(index=2, name="Clean", kind=StepKind.CIRCULATE, begun_s=COLD_S, ended_s=END_S),
        ),
    )


def _c(at_s: float, boil_c: float) -> float:
    if at_s <= BOIL_ENDS_S:
        return boil_c
    return 20.0 if at_s <= COLD_S else 100.0


def line(made_s: float | None, boil_c: float = 100.0) -> HopLine:
    """The bitter hop, confirmed at that time."""
    made = AdditionTimes(name=HOP.name, planned_min=HOP.before_end_min or 0.0, made_min=0.0, made_s=made_s or 0.0)
    day = Brewed(
        steps=(),
        additions=() if made_s is None else (made,),
        water_l=None,
        grain_kg=2.0,
        pre_boil_l=None,
        pre_boil_sg=None,
        post_boil_l=None,
        original_sg=None,
        boil_min=60.0,
        strike_error_c=None,
    )
    lines = hops_as_brewed(MILD, day, trace(boil_c))
    return next(each for each in lines if each.hop is HOP)


def test_a_hop_in_time_is_worth_its_minutes() -> None:
    assert line(BOIL_S).boil_minutes == pytest.approx(60.0, abs=0.2)


def test_a_hop_half_an_hour_late_is_worth_half_an_hour_less() -> None:
    assert line(BOIL_S + 1800.0).boil_minutes == pytest.approx(30.0, abs=0.2)
    assert line(BOIL_S + 1800.0).bitterness_ibu < line(BOIL_S).bitterness_ibu


def test_a_boil_at_95_degrees_makes_less_of_it() -> None:
    """Malowicki and Shellhammer 2005: exp(-11858 (1/368.15 - 1/373.15)) is 0.650."""
    assert line(BOIL_S, boil_c=95.0).boil_minutes == pytest.approx(0.650 * 60.0, abs=0.3)


def test_a_hop_that_was_never_confirmed_counts_for_nothing() -> None:
    assert line(None).bitterness_ibu == 0.0


def test_what_is_heated_after_chilling_is_no_wort() -> None:
    """The cleaning of this day is as hot as its boil, and adds nothing."""
    assert line(BOIL_ENDS_S).boil_minutes < 0.2


def test_first_wort_hops_are_in_from_the_begin_of_the_boil_step() -> None:
    first = replace(HOP, use=HopUse.FIRST_WORT, before_end_min=None)
    planned = replace(MILD, recipe=replace(MILD.recipe, hops=(first,)))
    day = Brewed(
        steps=(),
        additions=(),
        water_l=None,
        grain_kg=2.0,
        pre_boil_l=None,
        pre_boil_sg=None,
        post_boil_l=None,
        original_sg=None,
        boil_min=60.0,
        strike_error_c=None,
    )
    assert hops_as_brewed(planned, day, trace())[0].boil_minutes == pytest.approx(60.0, abs=0.2)
