"""What a person may see of a batch at one tick. Codes and numbers; words are made at the edge."""

from __future__ import annotations

from dataclasses import dataclass

from kettlebridge.model.alarm import AlarmRecord
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.forecast import Forecast
from kettlebridge.model.ids import BatchId, KettleId, ProbeName
from kettlebridge.model.plan import StepKind
from kettlebridge.model.reading import BoardStanding


@dataclass(frozen=True, slots=True, kw_only=True)
class CallView:
    """Something asked of the brewer. `kind` is the call's code, `subject` what it is about (an addition's name...).

    `due_s` is the batch time it is meant for, `raised_s` since when it is open (None: announced only).
    `at_kettle`: only the board's button or the code posted at the kettle answers it.
    `overdue`: open so long that it is an alarm.
    """

    id: str
    kind: str
    subject: str
    due_s: float
    raised_s: float | None
    at_kettle: bool
    text: str = ""
    litres: float | None = None
    kg: float | None = None
    overdue: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbeView:
    """A probe's last good value (calibrated), its age, and the fault code if it has one now."""

    probe: ProbeName
    value_c: float | None
    age_s: float | None
    fault: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class OutputsView:
    """What is demanded, after interlocks, and what the board says of its pins (None while it says nothing)."""

    heater_duty_fraction: float
    heater_permille: int
    pump_on: bool
    main_contactor_on: bool
    board_heater_permille: int | None
    board_pump_on: bool | None
    board_main_contactor_closed: bool | None


@dataclass(frozen=True, slots=True, kw_only=True)
class StepView:
    """The step in hand. `stage` is its code; `remaining_s` of its timer, None before the timer runs.

    `coming_back`: what boiled does not now, and its time waits.
    """

    index: int
    count: int
    name: str
    kind: StepKind
    stage: str
    target_c: float | None
    begun_s: float
    remaining_s: float | None
    coming_back: bool = False

    @property
    def begun(self) -> bool:
        """Whether the day was ever under way: it is in a stage, or a step before was left by a skip."""
        return bool(self.stage) or self.index > 0


@dataclass(frozen=True, slots=True, kw_only=True)
class ArmingView:
    """A kettle that is to heat with nobody there. `phase` is the arming's code, `reason` why the last one ended."""

    phase: str
    reason: str | None
    ready_at_utc_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Snapshot:
    """`n` is the tick's number: commands name it to say what they were given in view of.

    `forecast` is made beside the ticks and may be some seconds older; None where nothing goes on by itself.
    `later_s` is what the brewer added to steps before they began, by their index.
    `arming` is there while a step waits for its time to heat.
    `boards`: each of the kettle's boards, where it has several or there is no session.
    """

    kettle: KettleId
    batch: BatchId
    profile: str
    n: int
    now_s: float
    at_utc_s: float
    state: BatchState
    hold_cause: str | None
    temperature_c: float | None
    step: StepView | None
    calls: tuple[CallView, ...]
    probes: tuple[ProbeView, ...]
    outputs: OutputsView
    alarms: tuple[AlarmRecord, ...]
    linked: bool
    volume_l: float | None
    energy_kwh: float
    recorded: bool
    bed_c: float | None = None
    forecast: Forecast | None = None
    boards: tuple[BoardStanding, ...] = ()
    later_s: tuple[tuple[int, float], ...] = ()
    arming: ArmingView | None = None
    boil_over: str | None = None
    """How near it is to boiling over: low, raised or high; None where nothing boils."""

    @property
    def nothing_chosen(self) -> bool:
        """Whether the kettle waits for something to brew: a profile has a name."""
        return not self.profile
