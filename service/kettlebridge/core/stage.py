"""What a step is made of: stages, each a row that says what it wishes, asks, counts, and where it leads."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, NamedTuple, TypeVar

from kettlebridge.core.additions import Schedule
from kettlebridge.core.arming_state import Arming
from kettlebridge.core.calls import CallKind, Wanted
from kettlebridge.core.known import Known
from kettlebridge.core.ledger import Ledger
from kettlebridge.core.trail import Trail
from kettlebridge.model.plan import AnyStep, Plan

DONE = "done"
"""As the name of a next stage: the step is done."""


class Climb(NamedTuple):
    """A liquid seen to climb near its boil: when last, how hot it was then, and at what duty.

    `lost_fraction`: what the first climb at less than all lost.
    """

    seen_s: float
    seen_c: float
    at_fraction: float
    lost_fraction: float | None


class Suspicion(NamedTuple):
    """A plateau that may be the boil, at `level_c` since `since_s`.

    It stood still at `stood_fraction` of full power; since `asked_s` it is given `asked_fraction`, to see what it does
    within `asks_for_s`. None: the heater has too little left to ask with.
    """

    since_s: float
    level_c: float
    stood_fraction: float
    asked_s: float
    asked_fraction: float
    asks_for_s: float | None


class StageState(NamedTuple):
    """Where in which step a batch is.

    `name` is the stage's, "" before the first step was entered. `timer_s` is what has been counted of the step's
    time, `extra_s` what the brewer added to it, `target_c` what the brewer changed the target to. `expected_s` is
    how long the stage should take by nameplate. `near_since_s`: within tolerance of the target since then;
    `below_since_s`: under the band since then. `answered` are the calls of this step that were answered.
    `boil_c` is the boiling point found, `stalled_fraction` the duty at which an open kettle stood still under it,
    `suspicion` and `climb` what points to a boil.
    `pumped_s` counts sanitising. `before_sparge_s`: from the end of this step to the sparge, while its water is still
    to be put on; None: no more. `later_s` is what the brewer added to steps to come, by their index.
    """

    step_index: int = 0
    name: str = ""
    step_begun_s: float = 0.0
    begun_s: float = 0.0
    begun_c: float | None = None
    expected_s: float | None = None
    timer_s: float = 0.0
    extra_s: float = 0.0
    target_c: float | None = None
    near_since_s: float | None = None
    below_since_s: float | None = None
    answered: tuple[tuple[CallKind, int], ...] = ()
    boil_c: float | None = None
    suspicion: Suspicion | None = None
    climb: Climb | None = None
    stalled_fraction: float | None = None
    pumped_s: float = 0.0
    before_sparge_s: float | None = None
    later_s: tuple[tuple[int, float], ...] = ()

    @property
    def begun(self) -> bool:
        """Whether the day was ever under way; a step that was just skipped has left the next one not yet entered."""
        return bool(self.name) or self.step_index > 0


def begun_anew(stage: StageState, now_s: float) -> StageState:
    """The stage as if entered at `now_s`: nothing that was going on before a pause or a change counts for it.

    `begun_c` and `expected_s` are found by the next tick of the sequencer.
    """
    return stage._replace(
        begun_s=now_s,
        begun_c=None,
        expected_s=None,
        near_since_s=None,
        below_since_s=None,
        suspicion=None,
    )


def added_later_s(stage: StageState, index: int) -> float:
    """What the brewer added to the step `index` before it began."""
    return next((added_s for which, added_s in stage.later_s if which == index), 0.0)


def planned_s(step: AnyStep, stage: StageState) -> float | None:
    """The step's own time with what the brewer added; None for a step without a timer."""
    for_min: float | None = getattr(step, "for_min", None)
    return None if for_min is None else for_min * 60.0 + stage.extra_s


def remaining_s(step: AnyStep, stage: StageState) -> float | None:
    """What is left of the step's timer; None for a step without one."""
    planned = planned_s(step, stage)
    return None if planned is None else planned - stage.timer_s


StepT_co = TypeVar("StepT_co", bound=AnyStep, covariant=True)


class Scene(NamedTuple, Generic[StepT_co]):
    """All that a stage may look at. `control_c` is None while the control probe has never been believed.

    `bed_c`: the grain bed, where it is the bed that is controlled. `known`: of the kettle's heat, None at first.
    `duty_fraction` is what the heater was given in the tick before.
    """

    plan: Plan
    step: StepT_co
    stage: StageState
    schedule: Schedule
    ledger: Ledger
    trail: Trail
    control_c: float | None
    bed_c: float | None
    ambient_c: float
    known: Known | None
    duty_fraction: float
    now_s: float
    at_utc_s: float
    dt_s: float
    arming: Arming

    def answered(self, kind: CallKind, index: int = 0) -> bool:
        """Whether that call of this step was answered."""
        return (kind, index) in self.stage.answered

    @property
    def age_s(self) -> float:
        """How long this stage has lasted."""
        return self.now_s - self.stage.begun_s

    @property
    def step_age_s(self) -> float:
        """How long this step has lasted."""
        return self.now_s - self.stage.step_begun_s


STAGE = Scene._fields.index("stage")


def at_stage(scene: Scene[StepT_co], stage: StageState) -> Scene[StepT_co]:
    """The scene with what a stage has counted in this tick."""
    return Scene._make((*scene[:STAGE], stage, *scene[STAGE + 1 :]))


class Wish(NamedTuple):
    """What a stage wants of the outputs.

    `target_c`: regulate to it; `fixed_fraction`: this duty instead; both None: no heat. `ceiling_fraction` bounds
    either. `short_pulses`: a contactor gives it in pulses as short as it may, at the cost of its contacts.
    """

    target_c: float | None = None
    fixed_fraction: float | None = None
    ceiling_fraction: float = 1.0
    pump_on: bool = False
    buzzer: int = 0
    short_pulses: bool = False

    @property
    def heats(self) -> bool:
        """Whether any heat is wanted."""
        return self.target_c is not None or self.fixed_fraction is not None


NOTHING = Wish()


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """A row. `moves` are tried in order: the first guard that holds names the next stage.

    `asks`: the calls that must be open or answered now. `counts`: the stage's own bookkeeping. `expects_c`: the
    temperature it is on the way to, for the time it should take. `hands_in`, `hot_pump` (pump above 80 °C, after
    "hoses clamped, outlet secured"), `heats_with_pump` and `hold_limit_s` are what the interlocks go by.
    `readies`: additions are announced ahead; `adds`: they also become due. `timed`: the step's own timer runs.
    """

    name: str
    wish: Callable[[Scene], Wish]  # type: ignore[type-arg]  # a row serves the scene of its own kind of step
    moves: tuple[tuple[Callable[[Scene], bool], str], ...]  # type: ignore[type-arg]  # as above
    asks: Callable[[Scene], tuple[Wanted, ...]] | None = None  # type: ignore[type-arg]  # as above
    counts: Callable[[Scene], StageState] | None = None  # type: ignore[type-arg]  # as above
    expects_c: Callable[[Scene], float] | None = None  # type: ignore[type-arg]  # as above
    hands_in: bool = False
    hot_pump: bool = False
    heats_with_pump: bool = False
    hold_limit_s: float | None = None
    boils: bool = False
    readies: bool = False
    adds: bool = False
    timed: bool = False


def always(scene: Scene[AnyStep]) -> bool:
    """A guard that lets through."""
    return True


def nothing(scene: Scene[AnyStep]) -> Wish:
    """Everything off."""
    return NOTHING


def answered(kind: CallKind) -> Callable[[Scene[AnyStep]], bool]:
    """A guard: that call was answered."""

    def guard(scene: Scene[AnyStep]) -> bool:
        return scene.answered(kind)

    return guard


def asks(*kinds: CallKind) -> Callable[[Scene[AnyStep]], tuple[Wanted, ...]]:
    """Asks these, always."""
    wanted = tuple(Wanted(kind=kind) for kind in kinds)

    def ask(scene: Scene[AnyStep]) -> tuple[Wanted, ...]:
        return wanted

    return ask
