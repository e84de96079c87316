"""Moves a batch through its steps. STAGES is the whole law: one row of stages for each kind of step."""

from __future__ import annotations

from typing import NamedTuple, cast

from kettlebridge.brewing.chilling import reachable_c
from kettlebridge.core import additions, calls, sparge_water
from kettlebridge.core.calls import Call, CallKind
from kettlebridge.core.heat import Contents, Way, time_to_reach_s
from kettlebridge.core.stage import (
    DONE,
    NOTHING,
    Scene,
    Stage,
    StageState,
    Wish,
    added_later_s,
    at_stage,
    begun_anew,
    remaining_s,
)
from kettlebridge.core.steps import ask, boil, chill, circulate, heat, hop_stand, rest
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.plan import AnyStep, BoilStep, ChillStep, HeatStep, HopStandStep, Plan, StepKind

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
LASTING_CALLS = ADDITION_CALLS | {CallKind.SPARGE_WATER}
"""Calls that outlive the stage they were raised in."""
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


def sequence(scene: Scene[AnyStep], open_calls: tuple[Call, ...]) -> Sequenced:
    """One tick of the step in hand: count, move on, ask, and wish."""
    row = ROWS.get((scene.step.kind, scene.stage.name))
    events: list[Event] = []
    if row is None:
        scene, row = _enter_step(scene, scene.stage.step_index, events)
    elif row.counts is not None:
        stage = row.counts(scene)
        scene = scene if stage is scene.stage else at_stage(scene, stage)
    if scene.schedule and row.readies:
        scene = _readied(scene, row, events)
    for _ in range(MOST_MOVES):
        following = _following(row, scene)
        if following is None:
            break
        open_calls, closed = without_stage_calls(open_calls)
        events.extend(closed)
        if following == DONE:
            events.append(_step_event(EventCode.STEP_DONE, scene))
            if scene.stage.step_index + 1 >= len(scene.plan.profile.steps):
                ended = StageState(step_index=scene.stage.step_index + 1)
                return Sequenced(stage=ended, schedule=(), calls=(), wish=NOTHING, row=None, events=tuple(events))
            scene, row = _enter_step(scene, scene.stage.step_index + 1, events)
        else:
            row = ROWS[scene.step.kind, following]
            scene = _enter_stage(scene, row, events)
    if scene.stage.begun_c is None or (scene.stage.expected_s is None and row.expects_c is not None):
        scene = _expecting(scene, row)
    open_calls = _asked(scene, row, open_calls, events)
    if scene.stage.before_sparge_s is not None and sparge_water.due(scene):
        scene, open_calls = _sparge_water_called(scene, open_calls, events)
    return Sequenced(scene.stage, scene.schedule, open_calls, row.wish(scene), row, tuple(events))


def _following(row: Stage, scene: Scene[AnyStep]) -> str | None:
    for guard, name in row.moves:
        if guard(scene):
            return name
    return None


def _sparge_water_called(
    scene: Scene[AnyStep], open_calls: tuple[Call, ...], events: list[Event]
) -> tuple[Scene[AnyStep], tuple[Call, ...]]:
    open_calls, event = calls.raise_call(open_calls, scene.stage.step_index, sparge_water.WANTED, scene.now_s)
    events.append(event)
    return scene._replace(stage=scene.stage._replace(before_sparge_s=None)), open_calls


def _readied(scene: Scene[AnyStep], row: Stage, events: list[Event]) -> Scene[AnyStep]:
    """Additions announced or due. Before any move: what is due at the very end must still hold the step."""
    left_s = remaining_s(scene.step, scene.stage) or 0.0
    schedule, due = additions.advanced(scene.schedule, left_s, row.adds)
    events.extend(due)
    return scene._replace(schedule=schedule) if due else scene


def _enter_step(scene: Scene[AnyStep], index: int, events: list[Event]) -> tuple[Scene[AnyStep], Stage]:
    step = scene.plan.profile.steps[index]
    planned = step.additions if isinstance(step, BoilStep | HopStandStep) else ()
    # Called once: what is not waited for any more in the step before is not in this one either.
    calls_later = index == 0 or scene.stage.before_sparge_s is not None
    entered = scene._replace(
        step=step,
        stage=StageState(
            step_index=index,
            step_begun_s=scene.now_s,
            extra_s=added_later_s(scene.stage, index),
            later_s=scene.stage.later_s,
            before_sparge_s=sparge_water.after_s(scene.plan, index, scene.known) if calls_later else None,
        ),
        schedule=additions.schedule(planned),
    )
    events.append(_step_event(EventCode.STEP_BEGUN, entered))
    if isinstance(step, ChillStep) and (coldest_c := reachable_c(step.to_c, step.water_c)) > step.to_c:
        events.append(Event(code=EventCode.REACHABLE, values=(("reachable_c", coldest_c), ("to_c", step.to_c))))
    row = STAGES[step.kind][0]
    return _enter_stage(entered, row, events), row


def _enter_stage(scene: Scene[AnyStep], row: Stage, events: list[Event]) -> Scene[AnyStep]:
    events.append(Event(code=EventCode.STAGE, values=(("index", scene.stage.step_index), ("stage", row.name))))
    if row.boils:
        values = (("boil_c", _round(scene.control_c)), ("began_s_ago", round(scene.stage.timer_s, 1)))
        events.append(Event(code=EventCode.BOIL_FOUND, values=values))
    if isinstance(scene.step, HeatStep) and row.name == "heat":
        late_s = heat.late_s(cast("Scene[HeatStep]", scene))
        if late_s is not None:
            events.append(Event(code=EventCode.READY_LATE, values=(("late_s", round(late_s, 1)),)))
    stage = begun_anew(scene.stage, scene.now_s)._replace(
        name=row.name, boil_c=scene.control_c if row.boils else scene.stage.boil_c
    )
    return scene._replace(stage=stage)


def _expecting(scene: Scene[AnyStep], row: Stage) -> Scene[AnyStep]:
    """The scene of a stage just begun or begun anew: from where, and how long it should take."""
    expected_s = None if row.expects_c is None else _expected_s(scene, row, row.expects_c(scene))
    return scene._replace(stage=scene.stage._replace(begun_c=scene.control_c, expected_s=expected_s))


def _expected_s(scene: Scene[AnyStep], row: Stage, to_c: float) -> float | None:
    """By nameplate, from where the liquid is now; 0 where losses never let it get there; None while unknown."""
    if scene.control_c is None or scene.ledger.volume_l is None:
        return None
    contents = Contents(volume_l=scene.ledger.volume_l, grain_kg=scene.ledger.grain_kg)
    way = Way(from_c=scene.control_c, to_c=to_c, ambient_c=scene.ambient_c)
    return time_to_reach_s(scene.plan.kettle, contents, way, row.wish(scene).ceiling_fraction) or 0.0


def without_stage_calls(open_calls: tuple[Call, ...]) -> tuple[tuple[Call, ...], tuple[Event, ...]]:
    """A stage's own calls end with it; those of additions stay until they are answered."""
    kept = tuple(call for call in open_calls if call.kind in LASTING_CALLS)
    return kept, tuple(calls.closed(call, "itself") for call in open_calls if call not in kept)


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
