"""Everything a batch remembers between two ticks."""

from __future__ import annotations

from typing import NamedTuple

from kettlebridge.core.additions import Schedule
from kettlebridge.core.arming_state import NOT_ARMED, Arming
from kettlebridge.core.calls import Call
from kettlebridge.core.evidence import FIRST_EVIDENCE, Evidence
from kettlebridge.core.interlocks import IDLE_TIMERS, Timers
from kettlebridge.core.ledger import EMPTY, Ledger
from kettlebridge.core.outputs import ALL_OFF, Outputs
from kettlebridge.core.probes import UNHEARD, ProbeMemory
from kettlebridge.core.regulator import AT_REST, Regulation
from kettlebridge.core.relay_window import CLOSED, Window
from kettlebridge.core.stage import StageState
from kettlebridge.core.thermal import UNKNOWN, Thermal
from kettlebridge.core.trail import NO_TRAIL, Trail
from kettlebridge.model.alarm import AlarmRecord
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import CommandKey
from kettlebridge.model.plan import Plan
from kettlebridge.model.reading import UNLINKED, BoardHealth, BoardInput


class State(NamedTuple):
    """`n` ticks have been folded; `now_s` and `at_utc_s` are the last one's.

    `hold_cause` is why the batch is held (a promise, a person, an outage), None when it is not. `recent` are the
    newest commands by kind and id, so that the same one twice acts once. `stage` is where in which step the batch is.
    `draw_off_s` is since when and until when cups are being drawn: the pump runs until then, the "since" stays for a
    minute. `contactor_since_s` is when the main contactor was first demanded of those without a break until now.
    `health` is the wire's at the last tick. `arming`: whether it may heat with nobody there.
    """

    n: int
    now_s: float
    at_utc_s: float
    batch: BatchState
    batch_since_s: float
    hold_cause: str | None
    probes: tuple[ProbeMemory, ...]
    trail: Trail
    stage: StageState
    schedule: Schedule
    calls: tuple[Call, ...]
    ledger: Ledger
    regulation: Regulation
    thermal: Thermal
    window: Window
    evidence: Evidence
    timers: Timers
    alarms: tuple[AlarmRecord, ...]
    outputs: Outputs
    duty_fraction: float
    contactor_since_s: float | None
    draw_off_s: tuple[float, float] | None
    recent: tuple[CommandKey, ...]
    inputs_on: BoardInput
    unlinked_since_s: float | None
    health: BoardHealth
    journal_failing: bool
    arming: Arming
    clock_synchronised: bool

    def drawing_off(self, now_s: float) -> bool:
        """Whether the pump runs for a cup at `now_s`."""
        return self.draw_off_s is not None and now_s < self.draw_off_s[1]


def initial(plan: Plan) -> State:
    """A batch that has not begun: Idle, everything off, nothing known but what the one before left over."""
    return State(
        n=0,
        now_s=0.0,
        at_utc_s=0.0,
        batch=BatchState.IDLE,
        batch_since_s=0.0,
        hold_cause=None,
        probes=(UNHEARD,) * len(plan.kettle.probes),
        trail=NO_TRAIL,
        stage=StageState(),
        schedule=(),
        calls=(),
        ledger=EMPTY,
        regulation=AT_REST,
        thermal=UNKNOWN,
        window=CLOSED,
        evidence=FIRST_EVIDENCE,
        timers=IDLE_TIMERS,
        alarms=plan.left_over,
        outputs=ALL_OFF,
        duty_fraction=0.0,
        contactor_since_s=None,
        draw_off_s=None,
        recent=(),
        inputs_on=BoardInput.NONE,
        unlinked_since_s=None,
        health=UNLINKED,
        journal_failing=False,
        arming=NOT_ARMED,
        clock_synchronised=False,
    )
