"""A snapshot in one sentence: what is going on, how warm it is, how long it lasts, and what comes next."""

from __future__ import annotations

from kettlebridge.documents.amounts import degrees, duration
from kettlebridge.documents.arming import stays_cold
from kettlebridge.documents.stages import COMING_BACK, FOAMS_AGAIN, STAGE_WORDS, STAYS_COLD
from kettlebridge.documents.states import STATE_WORDS
from kettlebridge.documents.troubles import ALARM_WORDS, LINK_WORDS, OVER_WORDS, why_paused
from kettlebridge.model.alarm import AlarmRecord, AlarmState
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.plan import Plan
from kettlebridge.model.reading import BoardStanding
from kettlebridge.model.snapshot import Snapshot, StepView

NAMES_ITS_STEP = frozenset({BatchState.RUNNING, BatchState.HOLDING, BatchState.HELD, BatchState.RESTARTING})


def leading(snapshot: Snapshot, plan: Plan | None = None) -> str:
    """The sentence that leads every view. With the plan it says what comes next."""
    if snapshot.nothing_chosen and snapshot.state is BatchState.IDLE:
        return f"Nothing is running, {degrees(snapshot.temperature_c)}: choose a recipe or a profile."
    parts = [_doing(snapshot), degrees(snapshot.temperature_c)]
    if snapshot.state is BatchState.RUNNING and snapshot.step is not None and snapshot.step.remaining_s is not None:
        left = duration(snapshot.step.remaining_s)
        parts.append(f"then {left} more" if snapshot.step.coming_back else f"{left} left")
    sentence = ", ".join(parts)
    following = _next(snapshot, plan)
    return f"{sentence}; next: {following}." if following else f"{sentence}."


def _doing(snapshot: Snapshot) -> str:
    words = STATE_WORDS[snapshot.state]
    step = snapshot.step
    if step is None or snapshot.state not in NAMES_ITS_STEP:
        return words.name
    if snapshot.state is not BatchState.RUNNING:
        return f"{words.name}, in {step.name}"
    going_on = STAGE_WORDS.get((step.kind, step.stage))
    going_on = STAYS_COLD if stays_cold(snapshot) else COMING_BACK if step.coming_back else going_on
    return f"{step.name}: {going_on}" if going_on else step.name


def _next(snapshot: Snapshot, plan: Plan | None) -> str:
    if plan is None or snapshot.step is None or snapshot.state not in NAMES_ITS_STEP:
        return ""
    steps = plan.profile.steps
    following = snapshot.step.index + 1
    return steps[following].name if following < len(steps) else "nothing, it is the last step"


def place(step: StepView) -> str:
    """Where in the day a step is."""
    return f"step {step.index + 1} of {step.count}"


def standing(snapshot: Snapshot) -> tuple[str, ...]:
    """What else a person must know: why it is paused, a board that is silent, a record with gaps."""
    said: list[str] = []
    if snapshot.nothing_chosen and snapshot.state is BatchState.IDLE:
        said.append("Everything is off.")
    elif snapshot.state is not BatchState.RUNNING:
        said += [STATE_WORDS[snapshot.state].meaning, why_paused(snapshot.hold_cause)]
    elif snapshot.step is not None and snapshot.step.coming_back:
        said.append(FOAMS_AGAIN)
    if not snapshot.linked:
        said.append(ALARM_WORDS["link"].happened)
    said += [away(board) for board in snapshot.boards if not board.linked]
    if not snapshot.recorded:
        said.append(ALARM_WORDS["not_recorded"].happened)
    return tuple(sentence for sentence in said if sentence)


def away(board: BoardStanding) -> str:
    """What is the matter with a board that is not there, and what mends it."""
    name = f"Board {board.name}: " if board.name else ""
    if board.trouble is None:
        return f"{name}not asked yet."
    words = LINK_WORDS[board.trouble.value]
    return f"{name}{words.happened} ({board.detail}) {words.do}"


def alarm(record: AlarmRecord) -> str:
    """An alarm in full; of one that is over and that nobody has seen, that it is."""
    if record.state is AlarmState.RETURNED_UNACKNOWLEDGED:
        return f"Over. {OVER_WORDS[record.cause]}"
    words = ALARM_WORDS[record.cause]
    return f"{words.happened} {words.now} {words.do}"


def outputs(snapshot: Snapshot) -> str:
    """What is on."""
    board = snapshot.outputs
    heater = f"heater {100.0 * board.heater_duty_fraction:.0f} %" if board.heater_duty_fraction > 0.0 else "heater off"
    return f"{heater}, pump {'on' if board.pump_on else 'off'}"
