"""Promise 30: commands that are old, replayed, or sent twice."""

from __future__ import annotations

import pytest

from kettlebridge.core.commands import RAISING_AGE_TICKS
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import LOWERING, CommandKind
from kettlebridge.model.event import EventCode
from tests.core.bench_kettle import REST, BenchKettle, plan_of


def resting() -> BenchKettle:
    bench = BenchKettle(plan_of(REST), liquid_c=66.0, stage="hold")
    bench.run(30)
    return bench


def test_a_raising_command_given_in_view_of_an_old_picture_is_refused() -> None:
    bench = resting()
    n = bench.state.n
    assert bench.tell(CommandKind.RETARGET, target_c=70.0, seen_n=n - RAISING_AGE_TICKS - 1) == "seen_too_long_ago"
    assert bench.state.stage.target_c is None
    assert bench.tell(CommandKind.RETARGET, target_c=70.0, seen_n=bench.state.n - 2) is None


@pytest.mark.parametrize("kind", sorted(LOWERING - {CommandKind.DISARM}, key=str))
def test_a_lowering_one_is_obeyed_at_any_age(kind: CommandKind) -> None:
    bench = resting()
    assert bench.tell(kind, seen_n=0) is None
    assert bench.off


def test_the_same_command_again_acts_once() -> None:
    bench = resting()
    extend = bench.command(CommandKind.EXTEND, minutes=5.0)
    for _ in range(3):
        bench.tick(extend)
    assert bench.state.stage.extra_s == 300.0


def test_a_replayed_carry_on_does_not_bring_heat_back() -> None:
    bench = resting()
    carry_on = bench.command(CommandKind.CARRY_ON)
    bench.tell(CommandKind.HOLD)
    bench.run(6)
    bench.tick(carry_on)
    bench.run(8)
    assert bench.be(BatchState.RUNNING)
    bench.tell(CommandKind.HOLD)
    bench.run(6)
    bench.tick(carry_on)
    bench.run(8)
    assert bench.be(BatchState.HELD)
    assert bench.of(EventCode.COMMAND_TAKEN)[-1].get("reason") == "again"
