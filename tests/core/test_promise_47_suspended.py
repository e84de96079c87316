"""Promise 47: the host was suspended. What ends a process that hangs: tests/runtime/test_stuck_guard.py."""

from __future__ import annotations

import pytest

from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.event import EventCode
from kettlebridge.model.inputs import Resumed
from tests.core.bench_kettle import REST, STRIKE, WITHIN_S, BenchKettle, plan_of

WITHIN_47_S = WITHIN_S[47] or 0.0


@pytest.mark.parametrize("away_s", [6.0, 120.0, 7200.0])
def test_after_a_suspend_the_batch_is_held_in_the_first_tick(away_s: float) -> None:
    bench = BenchKettle(plan_of(STRIKE), stage="heat")
    bench.run(10)
    bench.tick(dt_s=away_s)
    assert bench.off
    assert bench.until(lambda: bench.batch is BatchState.HELD, within_s=10) <= 6.0
    assert bench.state.hold_cause == "away"


def test_no_time_counts_for_it() -> None:
    bench = BenchKettle(plan_of(REST), liquid_c=66.0, stage="hold")
    bench.run(20)
    before_s = bench.state.stage.timer_s
    bench.tick(dt_s=3600.0)
    assert bench.state.stage.timer_s == before_s


def test_after_a_restart_it_is_held_and_old_readings_count_for_nothing() -> None:
    bench = BenchKettle(plan_of(STRIKE), stage="heat")
    bench.run(10)
    bench.reads = lambda: None
    bench.tick(resumed=Resumed(away_s=60.0))
    assert bench.off
    assert bench.batch is BatchState.HELD
    assert bench.state.evidence.control_c is None
    assert bench.of(EventCode.RESUMED)


def test_three_seconds_late_is_not_away() -> None:
    bench = BenchKettle(plan_of(STRIKE), stage="heat")
    bench.run(10)
    bench.tick(dt_s=3.0)
    assert bench.batch is BatchState.RUNNING
    assert WITHIN_47_S == 1.0
