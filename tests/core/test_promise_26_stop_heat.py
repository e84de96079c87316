"""Promise 26: somebody says stop all heat."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kettlebridge.core.ledger import Grain
from kettlebridge.core.snapshot import snapshot
from kettlebridge.model.batch_state import ENDED, BatchState
from kettlebridge.model.command import CommandKind
from kettlebridge.model.ids import BatchId
from kettlebridge.model.kettle import HeaterDrive
from kettlebridge.model.reading import BoardInput
from tests.core.bench_kettle import KETTLE, MASH_REST, STRIKE, WITHIN_S, BenchKettle, plan_of

WITHIN_26_S = WITHIN_S[26] or 0.0
LEAVES_ABORTED = {CommandKind.RESET: BatchState.IDLE, CommandKind.STOP: BatchState.STOPPING}


def mashing(batch: BatchState = BatchState.RUNNING) -> BenchKettle:
    bench = BenchKettle(plan_of(MASH_REST), liquid_c=60.0, stage="ramp", grain=Grain.IN)
    bench.alive = False
    bench.run(5)
    assert bench.heater > 0
    assert bench.pump
    bench.state = bench.state._replace(batch=batch, batch_since_s=bench.now_s)
    return bench


@pytest.mark.parametrize("batch", BatchState)
def test_stop_heat_is_taken_in_every_state_and_everything_is_off_in_the_same_tick(batch: BatchState) -> None:
    bench = mashing(batch)
    begun_s = bench.now_s
    assert bench.tell(CommandKind.STOP_HEAT, at_kettle=False) is None
    assert bench.off
    assert bench.now_s - begun_s <= WITHIN_26_S
    assert bench.batch in {BatchState.ABORTING, BatchState.ABORTED} | ENDED


@pytest.mark.parametrize("kind", [CommandKind.STOP_HEAT, CommandKind.STOP, CommandKind.HOLD])
@pytest.mark.parametrize("seen_n", [None, 0, 10**9])
def test_lowering_is_obeyed_at_any_age(kind: CommandKind, seen_n: int | None) -> None:
    bench = mashing()
    bench.state = bench.state._replace(n=5000)
    assert bench.tell(kind, seen_n=seen_n) is None
    assert bench.off


@pytest.mark.parametrize("kind", CommandKind)
def test_aborted_is_left_only_by_reset_or_for_good(kind: CommandKind) -> None:
    bench = mashing()
    bench.tell(CommandKind.STOP_HEAT)
    bench.run(6)
    assert bench.batch is BatchState.ABORTED
    bench.tell(kind, on=True, minutes=5.0, target_c=60.0, litres=1.0)
    assert bench.batch is LEAVES_ABORTED.get(kind, BatchState.ABORTED)
    assert bench.off


def test_reset_is_a_word_at_the_kettle() -> None:
    bench = mashing()
    bench.tell(CommandKind.STOP_HEAT)
    bench.run(6)
    assert bench.tell(CommandKind.RESET, at_kettle=False) == "at_kettle_only"
    assert bench.batch is BatchState.ABORTED


def test_after_reset_and_start_heat_is_announced_five_seconds_ahead() -> None:
    bench = mashing()
    bench.tell(CommandKind.STOP_HEAT)
    bench.run(6)
    assert bench.tell(CommandKind.RESET) is None
    assert bench.tell(CommandKind.START, at_kettle=False) == "at_kettle_only"
    assert bench.tell(CommandKind.START) is None
    assert bench.be(BatchState.RESTARTING)
    for _ in range(4):
        bench.tick()
        assert bench.off
    bench.run(4)
    assert bench.batch is BatchState.RUNNING
    assert bench.heater > 0


def test_a_stop_in_the_very_moment_of_a_skip_is_undone_no_easier() -> None:
    """The step skipped to is not entered yet, and still the day is under way."""
    bench = BenchKettle(plan_of(STRIKE, MASH_REST), liquid_c=60.0, stage="heat")
    bench.run(5)
    bench.tick(bench.command(CommandKind.SKIP, at_kettle=False), bench.command(CommandKind.STOP_HEAT, at_kettle=False))
    bench.run(6)
    assert bench.be(BatchState.ABORTED)
    assert (bench.stage, bench.state.stage.step_index) == ("", 1)
    view = snapshot(bench.plan, BatchId("bench-1"), bench.state).step
    assert view is not None
    assert view.begun
    bench.tell(CommandKind.RESET)
    assert bench.tell(CommandKind.START, at_kettle=False) == "at_kettle_only"
    assert bench.tell(CommandKind.START) is None
    assert bench.be(BatchState.RESTARTING)
    bench.run(3)
    assert bench.off


def test_the_boards_stop_button_is_stop_heat() -> None:
    bench = mashing()
    bench.inputs_on = BoardInput.STOP
    bench.tick()
    assert bench.off
    assert bench.batch is BatchState.ABORTING


def test_a_stop_button_found_pressed_after_an_outage_counts() -> None:
    bench = mashing()
    bench.linked = False
    bench.run(2)
    bench.linked, bench.inputs_on = True, BoardInput.STOP
    bench.tick()
    assert bench.batch is BatchState.ABORTING


def test_a_contactor_in_the_middle_of_its_dwell_is_off_at_once() -> None:
    kettle = replace(KETTLE, drive=HeaterDrive.CONTACTOR)
    bench = BenchKettle(plan_of(STRIKE, kettle=kettle), stage="heat")
    bench.run(3)
    assert bench.heater == 1000
    bench.tell(CommandKind.STOP_HEAT)
    assert bench.off
