"""A rest: ramp, hold, and a timer that never hangs."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kettlebridge.core.calls import CallKind
from kettlebridge.core.ledger import Grain
from kettlebridge.core.steps.heating import BAND_C, NO_PUMP_CEILING_FRACTION
from kettlebridge.core.steps.rest import BELOW_ASK_S
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import CommandKind
from kettlebridge.model.event import EventCode
from kettlebridge.model.plan import RestStep
from tests.core.bench_kettle import KETTLE, STRIKE, BenchKettle, plan_of

STILL = RestStep(name="rest", at_c=66.0, for_min=30.0)


def holding(liquid_c: float, step: RestStep = STILL) -> BenchKettle:
    bench = BenchKettle(plan_of(step, STRIKE), liquid_c=liquid_c, stage="hold", grain=Grain.IN)
    bench.alive = False
    return bench


@pytest.mark.parametrize(("liquid_c", "counts"), [(66.0, True), (65.6, True), (65.4, False), (69.0, True)])
def test_time_counts_at_or_above_the_band_and_not_below(liquid_c: float, counts: bool) -> None:
    bench = holding(liquid_c)
    bench.run(20)
    assert bench.state.stage.timer_s == (20.0 if counts else 0.0)


def test_a_minute_well_above_rings_until_a_minute_below_it() -> None:
    bench = holding(66.0)
    bench.run(5)
    bench.liquid_c = 67.5
    bench.run(60)
    assert bench.alarms == []
    bench.run(25)
    assert bench.alarms == ["rest_hot"]
    bench.liquid_c = 66.2
    bench.run(90)
    assert [event.get("state") for event in bench.of(EventCode.ALARM_CHANGED)] == ["returned_unacknowledged"]


def test_a_contactors_swing_rings_nothing() -> None:
    bench = holding(66.0)
    for second in range(300):
        bench.liquid_c = 67.5 if second % 80 < 40 else 65.6
        bench.tick()
    assert bench.alarms == []


def test_ten_minutes_below_it_asks_and_the_brewer_may_count_them() -> None:
    bench = holding(64.0)
    bench.run(BELOW_ASK_S - 10, dt_s=4.0)
    assert bench.calls == []
    bench.run(20, dt_s=4.0)
    assert bench.calls == [CallKind.REST_BELOW]
    assert bench.tell(CommandKind.COUNT_REST, at_kettle=False) is None
    before_s = bench.state.stage.timer_s
    bench.run(20)
    assert bench.state.stage.timer_s == before_s + 20.0


def test_count_rest_without_that_call_is_refused() -> None:
    assert holding(66.0).tell(CommandKind.COUNT_REST) == "no_such_call"


def test_once_back_in_the_band_the_ten_minutes_begin_anew() -> None:
    bench = holding(64.0)
    bench.run(500, dt_s=4.0)
    bench.liquid_c = 65.8
    bench.run(8)
    bench.liquid_c = 65.0
    bench.run(500, dt_s=4.0)
    assert bench.calls == []


def test_a_ramp_that_takes_far_too_long_asks_as_well_and_may_be_counted_from() -> None:
    bench = BenchKettle(plan_of(STILL, STRIKE), liquid_c=60.0, stage="ramp", grain=Grain.IN)
    bench.alive = False
    bench.run(3)
    bench.pass_by(2 * (bench.state.stage.expected_s or 0.0) + BELOW_ASK_S)
    bench.run(2)
    assert bench.calls == [CallKind.REST_BELOW]
    bench.tell(CommandKind.COUNT_REST)
    assert bench.stage == "hold"
    bench.run(3)
    assert bench.state.stage.timer_s > 0.0


def test_it_walks_from_settling_through_the_ramp_to_the_hold() -> None:
    step = RestStep(name="rest", at_c=66.0, for_min=2.0, pump_after_min=1.0)
    bench = BenchKettle(plan_of(step, STRIKE), liquid_c=65.0, stage="", grain=Grain.IN)
    bench.run(30)
    assert (bench.stage, bench.off) == ("settle", True)
    bench.run(32)
    assert (bench.stage, bench.pump, bench.contactor) == ("ramp", True, True)
    bench.liquid_c = 66.0
    bench.run(3)
    assert bench.stage == "hold"
    bench.run(125)
    assert bench.state.stage.step_index == 1


def test_what_was_below_while_the_bed_settled_raises_no_call_when_the_hold_begins() -> None:
    step = RestStep(name="rest", at_c=66.0, for_min=30.0, pump_after_min=10.0)
    bench = BenchKettle(plan_of(step), liquid_c=64.0, stage="settle", grain=Grain.IN)
    bench.alive = False
    bench.run(610, dt_s=4.0)
    bench.liquid_c = 65.9
    bench.run(10)
    assert bench.stage == "hold"
    assert bench.of(EventCode.CALL_RAISED) == []


def test_a_bed_that_settles_in_its_band_counts() -> None:
    step = RestStep(name="rest", at_c=66.0, for_min=30.0, pump_after_min=10.0)
    bench = BenchKettle(plan_of(step), liquid_c=66.0, stage="settle", grain=Grain.IN)
    bench.run(60)
    assert bench.state.stage.timer_s == 60.0
    assert bench.off


def test_a_mash_without_a_pump_is_heated_gently_and_given_the_time_for_it() -> None:
    still = replace(KETTLE, has_pump=False)
    bench = BenchKettle(plan_of(STILL, kettle=still), liquid_c=60.0, stage="ramp", grain=Grain.IN)
    bench.run(3)
    assert bench.heater == 1000 * NO_PUMP_CEILING_FRACTION
    plain = BenchKettle(plan_of(STILL), liquid_c=60.0, stage="ramp")
    plain.run(3)
    assert (bench.state.stage.expected_s or 0.0) > 1.9 * (plain.state.stage.expected_s or 1.0)


def test_a_rest_ends_after_its_time_and_the_brewers_minutes() -> None:
    bench = holding(66.0, RestStep(name="r", at_c=66.0, for_min=1.0))
    bench.tell(CommandKind.EXTEND, minutes=1.0)
    bench.run(115)
    assert bench.state.stage.step_index == 0
    bench.run(6)
    assert bench.state.stage.step_index == 1
    assert bench.be(BatchState.RUNNING)


def test_the_band_is_below_the_target_only() -> None:
    bench = BenchKettle(plan_of(STILL), liquid_c=66.0 - BAND_C - 0.1, stage="ramp", grain=Grain.IN)
    bench.alive = False
    bench.run(3)
    assert bench.stage == "ramp"
    bench.liquid_c = 68.0
    bench.run(2)
    assert bench.stage == "hold"
