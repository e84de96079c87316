"""Promise 6: the board that switches is away, while the probe, which has another way here, is still heard."""

from __future__ import annotations

import pytest

from kettlebridge.core.state import initial
from kettlebridge.model.batch_state import BatchState
from tests.core.bench_kettle import STRIKE, WITHIN_S, BenchKettle, plan_of

WITHIN_6_S = WITHIN_S[6] or 0.0


def heating() -> BenchKettle:
    bench = BenchKettle(plan_of(STRIKE), liquid_c=30.0, stage="heat")
    bench.run(20)
    assert bench.heater == 1000
    return bench


def test_the_batch_is_held_for_the_board_and_not_for_its_probe() -> None:
    bench = heating()
    bench.linked = False
    assert bench.until(lambda: bench.batch is not BatchState.RUNNING, within_s=WITHIN_6_S) <= WITHIN_6_S
    assert bench.state.hold_cause == "lost_board"
    assert bench.alarms == ["lost_board"]


@pytest.mark.parametrize("away_s", [5, 15, 1200])
def test_heat_does_not_come_back_by_itself_with_the_board(away_s: int) -> None:
    bench = heating()
    bench.linked = False
    bench.run(away_s)
    bench.linked = True
    bench.run(60)
    assert bench.batch is BatchState.HELD
    assert bench.off


def test_a_board_that_is_away_for_two_seconds_holds_nothing() -> None:
    bench = heating()
    bench.linked = False
    bench.run(2)
    bench.linked = True
    bench.run(10)
    assert (bench.batch, bench.heater) == (BatchState.RUNNING, 1000)


def test_a_probe_that_is_silent_with_it_is_the_one_cause_that_is_told() -> None:
    bench = heating()
    bench.linked, bench.reads = False, lambda: None
    bench.run(10)
    assert bench.alarms == ["stale"]


def test_a_kettle_that_nobody_brews_in_raises_no_alarm() -> None:
    bench = BenchKettle(plan_of(STRIKE))
    assert bench.state.batch is initial(bench.plan).batch
    bench.run(5)
    bench.linked = False
    bench.run(60)
    assert bench.alarms == []
