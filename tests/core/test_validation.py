"""Whether a profile fits a kettle: every reason why not."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kettlebridge.core.validation import misfits
from kettlebridge.model.kettle import ChillWay, Kettle, ProbeRole
from kettlebridge.model.plan import (
    AnyStep,
    AskKind,
    AskStep,
    BoilStep,
    ChillStep,
    CirculateStep,
    HeatStep,
    HopStandStep,
    Profile,
    RestStep,
    Water,
)
from tests.core.bench_kettle import KETTLE, MASH_REST, STRIKE

FILL = AskStep(name="fill", what=AskKind.FILL)
DOUGH_IN = AskStep(name="dough in", what=AskKind.DOUGH_IN)
LIFT = AskStep(name="lift", what=AskKind.LIFT)
SPARGE = AskStep(name="sparge", what=AskKind.SPARGE)
BOIL = BoilStep(name="boil", for_min=60.0)
WATER = Water(fill_l=20.0, sparge_l=5.0, grain_kg=4.0)
NO_PUMP = replace(KETTLE, has_pump=False)


def codes(*steps: AnyStep, kettle: Kettle = KETTLE, water: Water = WATER, ready_at: str | None = None) -> list[str]:
    profile = Profile(name="p", water=water, steps=steps, ready_at=ready_at)
    return [misfit.code for misfit in misfits(kettle, profile)]


def test_a_day_that_fits_has_no_misfit() -> None:
    day = (FILL, STRIKE, DOUGH_IN, MASH_REST, LIFT, SPARGE, BOIL, ChillStep(name="c", to_c=20.0, water_c=12.0))
    assert codes(*day, ready_at="07:00") == []


def test_too_much_water_is_said_with_the_litres() -> None:
    profile = Profile(name="p", water=replace(WATER, fill_l=31.0), steps=(FILL,))
    (misfit,) = misfits(KETTLE, profile)
    assert misfit.values == (("index", 0), ("step", "fill"), ("litres", 31.0), ("capacity_l", 30.0))


def test_grain_takes_room_too() -> None:
    assert codes(FILL, DOUGH_IN, water=replace(WATER, fill_l=28.0)) == ["too_much"]


def test_sparging_fills_up_what_the_grain_took_away() -> None:
    assert codes(FILL, DOUGH_IN, LIFT, SPARGE, water=replace(WATER, sparge_l=13.0)) == ["too_much"]
    assert codes(FILL, DOUGH_IN, LIFT, SPARGE, water=replace(WATER, sparge_l=12.0)) == []


@pytest.mark.parametrize(
    "steps",
    [
        (STRIKE,),
        (FILL, AskStep(name="e", what=AskKind.EMPTY), STRIKE),
        (FILL, ChillStep(name="c", way=ChillWay.IN_LINE, to_c=20.0, water_c=12.0), STRIKE),
        (AskStep(name="f", what=AskKind.FILL, litres=3.9), STRIKE),
    ],
)
def test_heating_with_a_bare_element_is_a_misfit(steps: tuple[AnyStep, ...]) -> None:
    kettle = replace(KETTLE, chill=ChillWay.IN_LINE)
    assert codes(*steps, kettle=kettle) == ["element_bare"]


def test_a_boil_that_boils_the_element_bare_is_one_as_well() -> None:
    assert codes(AskStep(name="f", what=AskKind.FILL, litres=6.0), BOIL) == ["element_bare"]


@pytest.mark.parametrize(
    "step",
    [
        HeatStep(name="h", to_c=70.0, pump=True),
        MASH_REST,
        HopStandStep(name="s", at_c=80.0, for_min=9.0, pump=True),
        BoilStep(name="b", for_min=60.0, sanitise_last_min=10.0),
        CirculateStep(name="c", at_c=60.0, for_min=9.0),
    ],
)
def test_a_step_that_pumps_needs_a_pump(step: AnyStep) -> None:
    assert codes(FILL, step, kettle=NO_PUMP) == ["no_pump"]
    assert codes(FILL, step) == []


def test_steps_that_pump_nothing_do_not() -> None:
    assert codes(FILL, STRIKE, RestStep(name="r", at_c=66.0, for_min=9.0), BOIL, kettle=NO_PUMP) == []


def test_more_steam_than_the_element_makes() -> None:
    assert codes(FILL, BoilStep(name="b", for_min=60.0, boil_off_l_per_h=4.0)) == ["more_boil_off_than_heat"]


@pytest.mark.parametrize("target_c", [100.0, 105.0])
def test_a_target_at_or_above_the_boil(target_c: float) -> None:
    assert codes(FILL, HeatStep(name="h", to_c=target_c)) == ["above_the_boil"]


def test_another_chiller_than_the_kettles() -> None:
    assert codes(FILL, ChillStep(name="c", way=ChillWay.IN_LINE, to_c=20.0, water_c=12.0)) == ["other_chiller"]


def test_unattended_heat_needs_a_main_contactor() -> None:
    bare = replace(KETTLE, has_main_contactor=False)
    assert codes(FILL, STRIKE, kettle=bare, ready_at="07:00") == ["unattended_without_contactor"]


def test_a_kettle_needs_a_control_probe() -> None:
    ambient = replace(KETTLE, probes=(replace(KETTLE.probes[0], role=ProbeRole.AMBIENT),))
    assert codes(FILL, STRIKE, kettle=ambient) == ["no_control_probe"]


def test_every_misfit_is_told_at_once() -> None:
    clean = CirculateStep(name="c", at_c=60.0, for_min=9.0)
    steps = (replace(FILL, litres=40.0), HeatStep(name="h", to_c=101.0), clean)
    assert codes(*steps, kettle=NO_PUMP) == ["too_much", "no_pump", "above_the_boil"]
