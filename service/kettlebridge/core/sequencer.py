"""Moves a batch through its steps. STAGES is the whole law: one row of stages for each kind of step."""

from __future__ import annotations

from typing import NamedTuple

from kettlebridge.core import additions, calls
from kettlebridge.core.calls import Call, CallKind
from kettlebridge.core.heat import Contents, time_to_reach_s
from kettlebridge.core.stage import DONE, NOTHING, Scene, Stage, StageState, Wish
from kettlebridge.core.steps import ask, boil, chill, circulate, heat, hop_stand, rest
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.plan import AnyStep, BoilStep, ChillStep, HopStandStep, Plan, StepKind

STAGES: dict[StepKind, tuple[Stage, ...]] = {
    StepKind.HEAT: heat.STAGES,
    StepKind.ASK: ask.STAGES,
    StepKind.REST: rest.STAGES,
    StepKind.BOIL: boil.STAGES,
    StepKind.HOP_STAND: hop_stand.STAGES,
    StepKind.CIRCULATE: circulate.STAGES,
    StepKind.CHILL: chill.STAGES,
}

ROWS: dict[tuple[StepKind, str], Stage] = {(kind, row.name): row for kind, rows in STAGES.items() for row in rows}

ADDITION_CALLS = frozenset(additions.CALLED.values())
MOST_MOVES = 4
"""Stages that may be passed through in one tick; a guard that leads in a circle stops here."""


class Sequenced(NamedTuple):
    """What the sequencer leaves: `row` is the stage's, None once the last step is done."""

    stage: StageState
    schedule: additions.Schedule
    calls: tuple[Call, ...]
    wish: Wish
    row: Stage | None
    events: tuple[Event, ...] = ()


def current_step(plan: Plan, stage: StageState) -> AnyStep | None:
    """The step in hand, None once the last is done."""
    steps = plan.profile.steps
    return steps[stage.step_index] if stage.step_index < len(steps) else None


def row_of(plan: Plan, stage: StageState) -> Stage | None:
    """The row of the stage in hand, None before the first step is entered and after the last."""
    step = current_step(plan, stage)
    return None if step is None else ROWS.get((step.kind, stage.name))


def remaining_s(scene: Scene[AnyStep]) -> float | None:
    """What is left of the step's own timer, None for a step without one."""
    step = scene.step
    if isinstance(step, BoilStep):
        return boil.remaining_s(scene)  # type: ignore[arg-type]  # the scene's step was just seen to be a boil
    for_min: float | None = getattr(step, "for_min", None)
    return None if for_min is None else for_min * 60.0 + scene.stage.extra_s - scene.stage.timer_s


def sequence(scene: Scene[AnyStep], open_calls: tuple[Call, ...]) -> Sequenced:
    """One tick of the step in hand: count, move on, ask, and wish."""
    row = ROWS.get((scene.step.kind, scene.stage.name))
    events: list[Event] = []
    if row is None:
        scene, row = _enter_step(scene, scene.stage.step_index, events)
    elif row.counts is not None:
        scene = scene._replace(stage=row.counts(scene))
    for _ in range(MOST_MOVES):
        following = next((name for guard, name in row.moves if guard(scene)), None)
        if following is None:
            break
        open_calls = _closed(open_calls, events)
        if following == DONE:
            events.append(_step_event(EventCode.STEP_DONE, scene))
            if scene.stage.step_index + 1 >= len(scene.plan.profile.steps):
                ended = StageState(step_index=scene.stage.step_index + 1)
                return Sequenced(stage=ended, schedule=(), calls=(), wish=NOTHING, row=None, events=tuple(events))
            scene, row = _enter_step(scene, scene.stage.step_index + 1, events)
        else:
            row = ROWS[scene.step.kind, following]
            scene = _enter_stage(scene, row, events)
    if scene.schedule and row.readies:
        schedule, due = additions.advanced(scene.schedule, remaining_s(scene) or 0.0, row.adds)
        if due:
            scene = scene._replace(schedule=schedule)
            events.extend(due)
    open_calls = _asked(scene, row, open_calls, events)
    return Sequenced(
        stage=scene.stage,
        schedule=scene.schedule,
        calls=open_calls,
        wish=row.wish(scene),
        row=row,
        events=tuple(events),
    )


def _enter_step(scene: Scene[AnyStep], index: int, events: list[Event]) -> tuple[Scene[AnyStep], Stage]:
    step = scene.plan.profile.steps[index]
    planned = step.additions if isinstance(step, BoilStep | HopStandStep) else ()
    entered = scene._replace(
        step=step,
        stage=StageState(step_index=index, step_begun_s=scene.now_s),
        schedule=additions.schedule(planned),
    )
    events.append(_step_event(EventCode.STEP_BEGUN, entered))
    if isinstance(step, ChillStep) and chill.reachable_c(step) > step.to_c:
        events.append(
            Event(code=EventCode.REACHABLE, values=(("reachable_c", chill.reachable_c(step)), ("to_c", step.to_c)))
        )
    row = STAGES[step.kind][0]
    return _enter_stage(entered, row, events), row


def _enter_stage(scene: Scene[AnyStep], row: Stage, events: list[Event]) -> Scene[AnyStep]:
    events.append(Event(code=EventCode.STAGE, values=(("index", scene.stage.step_index), ("stage", row.name))))
    if row.boils:
        events.append(Event(code=EventCode.BOIL_FOUND, values=(("boil_c", _round(scene.control_c)),)))
    stage = scene.stage._replace(
        name=row.name,
        begun_s=scene.now_s,
        begun_c=scene.control_c,
        expected_s=_expected_s(scene, row),
        near_since_s=None,
        boil_c=scene.control_c if row.boils else scene.stage.boil_c,
    )
    return scene._replace(stage=stage)


def _expected_s(scene: Scene[AnyStep], row: Stage) -> float | None:
    """How long the stage should take by nameplate, from where the liquid is now."""
    if row.expects_c is None or scene.control_c is None or scene.ledger.volume_l is None:
        return None
    to_c = row.expects_c(scene)
    if to_c is None:
        return None
    contents = Contents(volume_l=scene.ledger.volume_l, grain_kg=scene.ledger.grain_kg)
    return time_to_reach_s(scene.plan.kettle, contents, scene.control_c, to_c, scene.ambient_c)


def _closed(open_calls: tuple[Call, ...], events: list[Event]) -> tuple[Call, ...]:
    """A stage's own calls end with it; those of additions stay until they are answered."""
    kept = tuple(call for call in open_calls if call.kind in ADDITION_CALLS)
    events.extend(
        Event(code=EventCode.CALL_ANSWERED, values=(("call", call.id), ("by", "itself")))
        for call in open_calls
        if call not in kept
    )
    return kept


def _asked(scene: Scene[AnyStep], row: Stage, open_calls: tuple[Call, ...], events: list[Event]) -> tuple[Call, ...]:
    wanted = row.asks(scene) if row.asks is not None else ()
    if scene.schedule:
        wanted = (*wanted, *additions.wanted(scene.schedule))
    index = scene.stage.step_index
    for want in wanted:
        if (want.kind, want.index) in scene.stage.answered:
            continue
        if calls.find(open_calls, calls.call_id(index, want)) is None:
            open_calls, event = calls.raise_call(open_calls, index, want, scene.now_s)
            events.append(event)
    return open_calls


def _step_event(code: EventCode, scene: Scene[AnyStep]) -> Event:
    return Event(
        code=code,
        values=(
            ("index", scene.stage.step_index),
            ("step", scene.step.name),
            ("do", scene.step.kind.value),
            ("control_c", _round(scene.control_c)),
            ("energy_j", round(scene.ledger.energy_j)),
        ),
    )


def _round(value: float | None) -> float | None:
    return None if value is None else round(value, 3)


def is_addition_call(kind: CallKind) -> bool:
    """Whether a call is an addition's own."""
    return kind in ADDITION_CALLS
