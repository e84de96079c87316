"""Promise 20: too far above a set-point, above the absolute limit, or hot where nothing may be heated."""

from __future__ import annotations

import pytest

from kettlebridge.core.ledger import Grain
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import CommandKind
from kettlebridge.model.event import EventCode
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.plan import AnyStep, BoilStep, CirculateStep, HeatStep, HopStandStep, RestStep
from tests.core.bench_kettle import BARE, KETTLE, STRIKE, WITHIN_S, BenchKettle, plan_of

WITHIN_20_S = WITHIN_S[20] or 0.0
REST = RestStep(name="mash", at_c=66.0, for_min=30.0, pump_after_min=0.0)


def resting(liquid_c: float = 66.0) -> BenchKettle:
    bench = BenchKettle(plan_of(REST), liquid_c=liquid_c, stage="hold", grain=Grain.IN)
    bench.alive = False
    bench.run(3)
    return bench


def climb(bench: BenchKettle, to_c: float) -> None:
    """As fast as a probe may move without being doubted."""
    while bench.liquid_c < to_c:
        bench.liquid_c = min(bench.liquid_c + 2.0, to_c)
        bench.tick()


def test_five_degrees_above_a_reached_set_point_holds_the_batch() -> None:
    bench = resting()
    climb(bench, 71.5)
    assert bench.contactor
    bench.until(lambda: bench.off, within_s=WITHIN_20_S)
    bench.run(2)
    assert bench.batch is BatchState.HELD
    assert bench.state.hold_cause == "over_set_point"
    assert bench.alarms == ["over_set_point"]


def test_just_under_five_degrees_does_not() -> None:
    bench = resting()
    climb(bench, 70.9)
    bench.run(60)
    assert bench.batch is BatchState.RUNNING


def test_a_short_excursion_does_not() -> None:
    bench = resting()
    climb(bench, 71.5)
    bench.run(6)
    bench.liquid_c = 70.0
    bench.run(3)
    bench.liquid_c = 71.5
    bench.run(6)
    assert bench.batch is BatchState.RUNNING


def test_a_lowered_target_disarms_it_until_the_kettle_has_cooled_to_it() -> None:
    bench = resting()
    assert bench.tell(CommandKind.RETARGET, target_c=55.0) is None
    bench.run(30)
    assert bench.batch is BatchState.RUNNING
    assert bench.heater == 0
    while bench.liquid_c > 55.0:
        bench.liquid_c -= 1.0
        bench.tick()
    climb(bench, 60.5)
    bench.until(lambda: bench.off, within_s=WITHIN_20_S)


def test_carrying_on_far_above_the_set_point_is_still_guarded() -> None:
    bench = resting()
    climb(bench, 72.0)
    bench.until(lambda: bench.batch is BatchState.HELD, within_s=WITHIN_20_S)
    assert bench.tell(CommandKind.CARRY_ON) is None
    bench.run(30)
    assert bench.batch is BatchState.HELD
    assert bench.heater == 0


@pytest.mark.parametrize("kettle", [KETTLE, BARE], ids=["with main contactor", "without"])
def test_the_absolute_limit_ends_a_boil(kettle: Kettle) -> None:
    bench = BenchKettle(plan_of(BoilStep(name="boil", for_min=60.0), kettle=kettle), liquid_c=100.0, stage="boil")
    bench.alive = False
    bench.run(3)
    assert bench.heater > 0
    bench.liquid_c = 102.5
    assert bench.until(lambda: bench.off, within_s=WITHIN_20_S) <= WITHIN_20_S
    assert bench.state.hold_cause == "over_limit"


def test_above_the_limit_an_idle_kettle_raises_the_alarm_too() -> None:
    bench = BenchKettle(plan_of(STRIKE), liquid_c=103.0)
    bench.run(12)
    assert bench.batch is BatchState.IDLE
    assert bench.alarms == ["over_limit"]
    assert bench.off


@pytest.mark.parametrize("step", [HeatStep(name="h", to_c=95.0), RestStep(name="r", at_c=95.0, for_min=9.0)])
def test_above_90_degrees_heat_and_rest_may_not_heat(step: AnyStep) -> None:
    stage = "heat" if isinstance(step, HeatStep) else "hold"
    bench = BenchKettle(plan_of(step), liquid_c=89.0, stage=stage)
    bench.alive = False
    bench.run(3)
    assert bench.heater > 0
    bench.liquid_c = 90.5
    bench.tick()
    assert bench.heater == 0


@pytest.mark.parametrize(
    ("step", "stage"),
    [
        (BoilStep(name="b", for_min=9.0), "climb"),
        (CirculateStep(name="c", at_c=95.0, for_min=9.0), "ramp"),
        (HopStandStep(name="s", at_c=95.0, for_min=9.0), "stand"),
    ],
)
def test_boil_circulate_and_hop_stand_may(step: AnyStep, stage: str) -> None:
    bench = BenchKettle(plan_of(step), liquid_c=92.0, stage=stage)
    bench.alive = False
    bench.run(3)
    assert bench.heater > 0


def test_a_heat_up_that_lands_well_never_trips_it() -> None:
    bench = BenchKettle(plan_of(HeatStep(name="h", to_c=45.0), HeatStep(name="h", to_c=46.0)), stage="heat")
    bench.until(lambda: bench.batch is not BatchState.RUNNING, within_s=3600, dt_s=2.0)
    assert bench.of(EventCode.TRIP) == []
