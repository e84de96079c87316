"""Promise 22: a target that is never reached, or a hold for which nobody comes."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kettlebridge.core.ledger import Grain
from kettlebridge.core.sequencer import STAGES
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import CommandKind
from kettlebridge.model.event import EventCode
from kettlebridge.model.plan import AskKind, AskStep, BoilStep, HeatStep, RestStep, StepKind
from tests.core.bench_kettle import KETTLE, STARTED_UTC_S, STRIKE, WITHIN_S, BenchKettle, plan_of

WITHIN_22_S = WITHIN_S[22] or 0.0


def dead_element(bench: BenchKettle) -> BenchKettle:
    bench.alive = False
    return bench


def holds_until(bench: BenchKettle, limit_s: float, cause: str) -> None:
    """Still running a moment before `limit_s` of this stage have passed, held for `cause` a moment after."""
    bench.run(2)
    bench.pass_by(limit_s - 10.0 - (bench.now_s - bench.state.stage.begun_s))
    bench.run(9)
    assert bench.batch is BatchState.RUNNING
    bench.run(3)
    assert bench.state.hold_cause == cause
    assert bench.off


def test_a_target_never_reached_alarms_at_twice_the_plan_and_ends_two_hours_later() -> None:
    bench = dead_element(BenchKettle(plan_of(STRIKE), liquid_c=65.0, stage="heat"))
    bench.tick()
    expected_s = bench.state.stage.expected_s or 0.0
    assert expected_s == pytest.approx(179, rel=0.05)
    bench.pass_by(2 * expected_s + 295)
    bench.tick()
    assert bench.alarms == []
    bench.run(6)
    assert bench.alarms == ["twice_the_plan"]
    assert bench.heater == 1000
    holds_until(bench, 2 * expected_s + WITHIN_22_S, "never_there")


def test_a_target_that_losses_put_out_of_reach_is_bounded_as_well() -> None:
    lossy = replace(KETTLE, loss_w_per_k=60.0)
    bench = dead_element(BenchKettle(plan_of(HeatStep(name="h", to_c=80.0), kettle=lossy), liquid_c=60.0, stage="heat"))
    bench.tick()
    assert bench.state.stage.expected_s == 0.0
    holds_until(bench, WITHIN_22_S, "never_there")


def test_a_rest_that_stays_below_its_band_is_bounded_though_its_timer_stands() -> None:
    bench = dead_element(BenchKettle(plan_of(RestStep(name="r", at_c=66.0, for_min=1.0)), liquid_c=60.0, stage="hold"))
    holds_until(bench, 2 * 60 + WITHIN_22_S, "never_there")
    assert bench.state.stage.timer_s == 0.0


def test_a_boil_that_went_off_the_boil_is_bounded() -> None:
    bench = dead_element(BenchKettle(plan_of(BoilStep(name="b", for_min=1.0)), liquid_c=95.0, stage="boil"))
    holds_until(bench, 2 * 60 + WITHIN_22_S, "never_there")


def test_strike_water_kept_hot_for_nobody_ends_after_two_hours() -> None:
    step = HeatStep(name="h", to_c=70.0, ready=True)
    plan = plan_of(step, ready_at_utc_s=STARTED_UTC_S)
    bench = BenchKettle(plan, liquid_c=70.0, stage="hot_hold", armed=True)
    holds_until(bench, WITHIN_22_S, "held_for_nobody")


def test_under_the_boil_it_waits_45_minutes() -> None:
    bench = BenchKettle(plan_of(BoilStep(name="b", for_min=60.0)), liquid_c=96.0, stage="stand_by")
    holds_until(bench, 45 * 60, "held_for_nobody")


def test_a_sparge_kept_warm_ends_after_two_hours() -> None:
    step = AskStep(name="s", what=AskKind.SPARGE, keep_c=75.0)
    bench = BenchKettle(plan_of(step), liquid_c=75.0, stage="ask", grain=Grain.LIFTED)
    holds_until(bench, WITHIN_22_S, "held_for_nobody")


def test_carrying_on_gives_the_hold_its_time_again() -> None:
    bench = BenchKettle(plan_of(BoilStep(name="b", for_min=60.0)), liquid_c=96.0, stage="stand_by")
    holds_until(bench, 45 * 60, "held_for_nobody")
    bench.run(3)
    assert bench.tell(CommandKind.CARRY_ON) is None
    bench.run(60)
    assert bench.batch is BatchState.RUNNING
    assert bench.contactor


def test_a_heat_up_in_its_time_neither_alarms_nor_trips() -> None:
    bench = BenchKettle(plan_of(HeatStep(name="h", to_c=45.0)), stage="heat")
    bench.until(lambda: bench.batch is BatchState.COMPLETE, within_s=3600, dt_s=2.0)
    assert bench.of(EventCode.ALARM_RAISED) == []


COLD = {"begin", "hands_in", "hands_out", "announce", "wait", "settle", "hoses", "cool", "wrap"}


def test_every_stage_that_may_heat_has_a_bound() -> None:
    unbounded = {
        row.name
        for kind, rows in STAGES.items()
        for row in rows
        if kind is not StepKind.CHILL and not (row.expects_c or row.timed or row.hold_limit_s is not None)
    }
    assert unbounded == COLD
