"""Promise 48: the board begins anew again and again."""

from __future__ import annotations

from kettlebridge.core.interlocks import BOOTS_WITHIN_S
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import CommandKind
from kettlebridge.model.event import EventCode
from tests.core.bench_kettle import STRIKE, WITHIN_S, BenchKettle, plan_of

WITHIN_48_S = WITHIN_S[48] or 0.0


def boot(bench: BenchKettle, *, away_s: float = 2.0) -> None:
    """The board is gone for a moment, and its own time begins at nothing."""
    bench.linked = False
    bench.run(away_s)
    bench.linked = True
    bench.booted_s = bench.now_s + 0.5
    bench.tick()


def heating() -> BenchKettle:
    bench = BenchKettle(plan_of(STRIKE), stage="heat")
    bench.run(10)
    return bench


def test_the_third_boot_in_ten_minutes_latches() -> None:
    bench = heating()
    for _ in range(2):
        boot(bench)
        bench.run(30)
        assert bench.batch is BatchState.RUNNING
    boot(bench)
    bench.until(lambda: bench.off, within_s=WITHIN_48_S)
    assert bench.state.hold_cause == "board_restarts"
    bench.run(60)
    assert bench.tell(CommandKind.CARRY_ON) == "still_board_restarts"
    bench.run(BOOTS_WITHIN_S)
    assert bench.tell(CommandKind.CARRY_ON) is None


def test_three_boots_in_a_day_do_not() -> None:
    bench = heating()
    for _ in range(3):
        boot(bench)
        bench.run(BOOTS_WITHIN_S / 2, dt_s=2.0)
    assert bench.of(EventCode.TRIP) == []


def test_a_link_that_is_lost_and_comes_back_is_no_boot() -> None:
    bench = heating()
    for _ in range(5):
        bench.linked = False
        bench.run(2)
        bench.linked = True
        bench.run(30)
    assert bench.of(EventCode.TRIP) == []


def test_a_board_whose_time_goes_round_after_fifty_days_has_not_booted() -> None:
    bench = heating()
    bench.booted_s = bench.now_s - 4_294_967.0
    bench.run(2)
    bench.booted_s = bench.now_s
    bench.run(2)
    assert bench.state.evidence.by_board.boots_s == ()
