"""Who and what was there since the last tick: absences, the board's buttons, passing states that settle."""

from __future__ import annotations

from typing import NamedTuple

from kettlebridge.core.batch_states import PASSING_S, SETTLES
from kettlebridge.core.state import State
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import Command, CommandKind
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.ids import CommandId
from kettlebridge.model.inputs import Inputs
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.reading import BoardInput, BoardState

RUNNING = BatchState.RUNNING
AWAY_S = 5.0
"""A longer gap between two ticks is an absence: no time is counted and a running batch is held."""

INTERRUPTED = (BatchState.RUNNING, BatchState.RESTARTING)
"""What an absence and a trip hold."""
AT_WORK = (*INTERRUPTED, BatchState.HOLDING)

CONFIRM_BUTTON: dict[BatchState, CommandKind] = {
    BatchState.RUNNING: CommandKind.CONFIRM,
    BatchState.HELD: CommandKind.CARRY_ON,
    BatchState.ABORTED: CommandKind.RESET,
    BatchState.IDLE: CommandKind.START,
}
"""What the board's confirm button means; nothing in the other states."""


class Attended(NamedTuple):
    """`dt_s` is the time to count. `to` is the state the batch must go to, `forget` that no old reading counts."""

    dt_s: float
    to: BatchState | None = None
    cause: str | None = None
    forget: bool = False
    events: tuple[Event, ...] = ()


def attend(state: State, inputs: Inputs) -> Attended:
    """What the time since the last tick means."""
    if inputs.resumed is not None:
        event = Event(code=EventCode.RESUMED, values=(("away_s", round(inputs.resumed.away_s, 1)),))
        to = BatchState.HELD if state.batch in AT_WORK else None
        return Attended(0.0, to, "resumed", forget=True, events=(event,))
    dt_s = max(inputs.now_s - state.now_s, 0.0) if state.n else 0.0
    if dt_s > AWAY_S:
        to = BatchState.HOLDING if state.batch in INTERRUPTED else None
        return Attended(0.0, to, "away")
    if state.batch is not RUNNING and state.batch in SETTLES and _settled(state, inputs):
        return Attended(dt_s, SETTLES[state.batch])
    return Attended(dt_s)


def _settled(state: State, inputs: Inputs) -> bool:
    passed = inputs.now_s - state.batch_since_s >= PASSING_S
    if state.batch is BatchState.RESTARTING:
        return passed
    return passed or _reads_off(inputs.health.board)


def _reads_off(board: BoardState | None) -> bool:
    return board is not None and not (board.heater_permille or board.pump_on or board.main_contactor_closed)


def buttons(kettle: Kettle, state: State, inputs: Inputs) -> tuple[Command, ...]:
    """The board's buttons that were pressed since the last tick, as commands given at the kettle.

    A press counts only where the report before it shows the button up: one that is found pressed after an absence or
    a lost link is nobody's word, except the stop button's. So is a confirm input that the kettle file does not name: it
    may be a pin that floats.
    """
    board = inputs.health.board
    if board is None or board.inputs is state.inputs_on:
        return ()
    pressed = board.inputs & ~state.inputs_on
    if not state.health.linked or state.health.board is None or inputs.resumed is not None:
        pressed &= BoardInput.STOP
    pressed &= kettle.inputs | BoardInput.STOP
    if not pressed & (BoardInput.CONFIRM | BoardInput.STOP):
        return ()
    kind = CommandKind.STOP_HEAT if pressed & BoardInput.STOP else CONFIRM_BUTTON.get(state.batch)
    if kind is None:
        return ()
    id_ = CommandId(f"button.{state.n}")
    return (Command(id=id_, kind=kind, who="button at the kettle", at_kettle=True),)
