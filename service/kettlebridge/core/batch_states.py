"""The law of a batch: which command is taken in which state of ANSI/ISA-88, and where it leads.

An absent pair is refused with the reason `not_in_<state>`. A row that maps to its own state takes the command
without a change of state.
"""

from __future__ import annotations

from kettlebridge.model.batch_state import BatchState as S
from kettlebridge.model.command import CommandKind as K

AT_WORK: dict[K, S] = {
    K.HOLD: S.HOLDING,
    K.STOP: S.STOPPING,
    K.STOP_HEAT: S.ABORTING,
    K.CONFIRM: S.RUNNING,
    K.SKIP: S.RUNNING,
    K.EXTEND: S.RUNNING,
    K.RETARGET: S.RUNNING,
    K.COUNT_REST: S.RUNNING,
    K.ADDING_WATER: S.RUNNING,
    K.MEASURED: S.RUNNING,
    K.DRAW_OFF: S.RUNNING,
    K.ACKNOWLEDGE: S.RUNNING,
    K.ARM: S.RUNNING,
    K.DISARM: S.RUNNING,
}

TRANSITIONS: dict[S, dict[K, S]] = {
    S.IDLE: {
        K.START: S.RUNNING,
        K.STOP: S.STOPPING,
        K.STOP_HEAT: S.ABORTING,
        K.MEASURED: S.IDLE,
        K.ACKNOWLEDGE: S.IDLE,
    },
    S.RUNNING: AT_WORK,
    S.HOLDING: {
        K.STOP: S.STOPPING,
        K.STOP_HEAT: S.ABORTING,
        K.MEASURED: S.HOLDING,
        K.ACKNOWLEDGE: S.HOLDING,
        K.HOLD: S.HOLDING,
    },
    S.HELD: {
        K.HOLD: S.HELD,
        K.CARRY_ON: S.RESTARTING,
        K.STOP: S.STOPPING,
        K.STOP_HEAT: S.ABORTING,
        K.CONFIRM: S.HELD,
        K.EXTEND: S.HELD,
        K.RETARGET: S.HELD,
        K.ADDING_WATER: S.HELD,
        K.MEASURED: S.HELD,
        K.ACKNOWLEDGE: S.HELD,
    },
    S.RESTARTING: {
        K.HOLD: S.HOLDING,
        K.STOP: S.STOPPING,
        K.STOP_HEAT: S.ABORTING,
        K.MEASURED: S.RESTARTING,
        K.ACKNOWLEDGE: S.RESTARTING,
    },
    S.STOPPING: {
        K.STOP_HEAT: S.ABORTING,
        K.ACKNOWLEDGE: S.STOPPING,
        K.MEASURED: S.STOPPING,
        K.STOP: S.STOPPING,
    },
    S.STOPPED: {
        K.STOP_HEAT: S.STOPPED,
        K.ACKNOWLEDGE: S.STOPPED,
        K.MEASURED: S.STOPPED,
        K.STOP: S.STOPPED,
    },
    S.ABORTING: {
        K.STOP_HEAT: S.ABORTING,
        K.MEASURED: S.ABORTING,
        K.ACKNOWLEDGE: S.ABORTING,
    },
    S.ABORTED: {
        K.STOP_HEAT: S.ABORTED,
        K.RESET: S.IDLE,
        K.STOP: S.STOPPING,
        K.MEASURED: S.ABORTED,
        K.ACKNOWLEDGE: S.ABORTED,
    },
    S.COMPLETE: {
        K.STOP_HEAT: S.COMPLETE,
        K.STOP: S.COMPLETE,
        K.MEASURED: S.COMPLETE,
        K.ACKNOWLEDGE: S.COMPLETE,
    },
}


def leads_to(state: S, command: K, begun: bool) -> S:
    """Where a command that was taken leads. A batch that had begun is restarted, so that its heat is announced."""
    to = TRANSITIONS[state][command]
    return S.RESTARTING if begun and command is K.START else to


PASSING_S = 5.0
"""How long a passing state may last: outputs read back off end it sooner, RESTARTING announces for all of it."""

SETTLES: dict[S, S] = {
    S.HOLDING: S.HELD,
    S.RESTARTING: S.RUNNING,
    S.STOPPING: S.STOPPED,
    S.ABORTING: S.ABORTED,
}
"""Where a passing state ends by itself."""
