"""One tick: validate, commands, sequencer, regulator, relay window, interlocks, alarms, events. Pure.

The interlocks run last and only lower. Between two ticks there is nothing but the State.
"""

from __future__ import annotations

from typing import NamedTuple

from kettlebridge.core import additions, alarms, calls, commands, conditions, interlocks, ledger, relay_window, trail
from kettlebridge.core.attendance import INTERRUPTED, attend, buttons
from kettlebridge.core.calls import HOSES, HOT_CUP
from kettlebridge.core.drive import Driven, controlled_bed_c, drive
from kettlebridge.core.evidence import NEVER_HEARD_S, Evidence, arming
from kettlebridge.core.heat import ROOM_C
from kettlebridge.core.ledger import Grain
from kettlebridge.core.outputs import ALL_OFF, FULL_PERMILLE, Outputs, demands
from kettlebridge.core.probes import UNHEARD, Memories, ProbeMemory, control_memory, observe_all, value_c
from kettlebridge.core.sequencer import Sequenced, current_step, row_of, sequence
from kettlebridge.core.situation import Situation
from kettlebridge.core.stage import NOTHING, Scene, Stage, StageState, Wish, planned_s
from kettlebridge.core.state import State
from kettlebridge.core.thermal import above_bed_c
from kettlebridge.model.alarm import AlarmRecord
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.demand import Demand
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.inputs import Inputs
from kettlebridge.model.kettle import ProbeRole
from kettlebridge.model.plan import AnyStep, Plan

BUZZER_CALL = 1
BUZZER_ANNOUNCE = 2
BUZZER_ALARM = 3
BUZZER_CALL_S = 3.0

CONTACTOR_S = 0.5
"""Heat follows the main contactor's demand by at least this. A board refuses heat until it has been closed for 200 ms,
and the order is some time on its way."""

Events = tuple[Event, ...]


class Ticked(NamedTuple):
    """`demands` empty: nothing may be renewed."""

    state: State
    demands: tuple[Demand, ...]
    events: Events


class Seen(NamedTuple):
    """What the tick goes by. `dt_s` is the time that counts, `unlinked_since_s` None while the board is linked."""

    control: ProbeMemory
    bed_c: float | None
    above_bed_c: float
    ambient_c: float
    path: trail.Trail
    now_s: float
    dt_s: float
    unlinked_since_s: float | None


def tick(plan: Plan, state: State, inputs: Inputs) -> Ticked:
    """The state after `inputs`, what is demanded of the outputs, and what happened."""
    now_s, kettle, board = inputs.now_s, plan.kettle, inputs.health.board
    probes, probe_events = observe_all(kettle.probes, state.probes, inputs.readings, now_s)
    state, probes, dt_s, told_events = _told(plan, state, inputs, probes)
    seen = _seen(plan, state, inputs, probes, dt_s)
    sequenced = _sequenced(plan, state, inputs, seen)
    driven = _driven(plan, state, inputs, seen, sequenced.wish)
    evidence = _evidence(plan, state, inputs, seen, sequenced)
    outputs, timers, acting = interlocks.apply(evidence, driven.wants, state.timers, now_s)
    running = state.batch is BatchState.RUNNING
    open_calls, repeated = calls.repeat(sequenced.calls, now_s) if running else (sequenced.calls, ())
    batch, cause, ended_events = _ended(state, sequenced, acting, seen)
    here = conditions.Circumstances(acting, open_calls, state.alarms, _mash_c(seen), now_s)
    records, alarm_events = alarms.followed(state.alarms, conditions.active(evidence, here), now_s)
    same = batch is state.batch
    outputs = _heard(outputs if same else ALL_OFF, batch, open_calls, records, now_s)
    given = outputs.heater_permille == driven.wants.heater_permille
    told_permille = state.outputs.heater_permille if state.health.linked else 0
    boils = sequenced.row is not None and sequenced.row.boils
    contents = ledger.moved_on(state.ledger, kettle, told_permille, boils, dt_s)
    after = State(
        n=state.n + 1,
        now_s=now_s,
        at_utc_s=inputs.at_utc_s,
        batch=batch,
        batch_since_s=state.batch_since_s if same else now_s,
        hold_cause=cause,
        probes=probes,
        trail=seen.path,
        stage=sequenced.stage,
        schedule=sequenced.schedule,
        calls=open_calls,
        ledger=ledger.still_claimed(contents, now_s),
        regulation=driven.regulation if given else state.regulation,
        thermal=driven.thermal,
        window=driven.window if given else relay_window.taken_down(driven.window, now_s),
        evidence=evidence,
        timers=timers,
        alarms=records,
        outputs=outputs,
        duty_fraction=driven.duty_fraction if given and same and inputs.health.linked else 0.0,
        contactor_since_s=_contactor_since_s(state, inputs, outputs),
        draw_off_s=state.draw_off_s,
        recent=state.recent,
        inputs_on=board.inputs if board is not None else state.inputs_on,
        unlinked_since_s=seen.unlinked_since_s,
        health=inputs.health,
        journal_failing=inputs.journal_failing,
    )
    events = (*probe_events, *told_events, *sequenced.events, *driven.events, *repeated, *ended_events, *alarm_events)
    if board is None or not inputs.health.linked:
        return Ticked(after, (), events)
    return Ticked(after, demands(outputs, round(kettle.safety.lease_s * 1000.0), board.acted_on), events)


def _told(plan: Plan, state: State, inputs: Inputs, probes: Memories) -> tuple[State, Memories, float, Events]:
    """Absences, buttons, commands, and passing states that settle; and the time that counts."""
    attended = attend(state, inputs)
    commanded = (*buttons(state, inputs), *inputs.commands)
    drawn = state.draw_off_s is not None and inputs.now_s > state.draw_off_s[0] + commands.DRAW_OFF_AGAIN_S
    if not commanded and not drawn and attended.to is None and not attended.forget:
        return state, probes, attended.dt_s, ()
    if attended.forget:
        probes = (UNHEARD,) * len(probes)
    state = state._replace(probes=probes, now_s=inputs.now_s, draw_off_s=None if drawn else state.draw_off_s)
    events = attended.events
    if attended.to is not None:
        state, changed = commands.moved(state, attended.to, attended.cause)
        events = (*events, *changed)
    for command in commanded:
        state, taken = commands.take(plan, state, command)
        events = (*events, *taken)
    return state, probes, attended.dt_s, events


def _seen(plan: Plan, state: State, inputs: Inputs, probes: Memories, dt_s: float) -> Seen:
    control = control_memory(plan.kettle.probes, probes)
    since_s = inputs.now_s if state.unlinked_since_s is None else state.unlinked_since_s
    return Seen(
        control=control,
        bed_c=controlled_bed_c(plan.kettle, state.thermal),
        above_bed_c=above_bed_c(state.thermal),
        ambient_c=value_c(plan.kettle.probes, probes, ProbeRole.AMBIENT, ROOM_C),
        path=trail.followed(state.trail, control.good_c, state.duty_fraction, inputs.now_s),
        now_s=inputs.now_s,
        dt_s=dt_s,
        unlinked_since_s=None if inputs.health.linked else since_s,
    )


def _sequenced(plan: Plan, state: State, inputs: Inputs, seen: Seen) -> Sequenced:
    """The sequencer's tick while the batch runs; otherwise where it stands, with no wish."""
    step = current_step(plan, state.stage)
    if step is None or state.batch is not BatchState.RUNNING:
        return Sequenced(
            stage=state.stage,
            schedule=state.schedule,
            calls=state.calls,
            wish=NOTHING,
            row=row_of(plan, state.stage),
        )
    scene = Scene(
        plan=plan,
        step=step,
        stage=state.stage,
        schedule=state.schedule,
        ledger=state.ledger,
        trail=seen.path,
        control_c=seen.control.good_c,
        bed_c=seen.bed_c,
        ambient_c=seen.ambient_c,
        duty_fraction=state.duty_fraction,
        now_s=seen.now_s,
        at_utc_s=inputs.at_utc_s,
        dt_s=seen.dt_s,
    )
    sequenced = sequence(scene, state.calls)
    return sequenced._replace(wish=Wish(pump_on=True)) if state.drawing_off(seen.now_s) else sequenced


def _driven(plan: Plan, state: State, inputs: Inputs, seen: Seen, wish: Wish) -> Driven:
    board = inputs.health.board
    contactor = board is not None and board.main_contactor_closed
    closed = contactor or (board is not None and not plan.kettle.has_main_contactor)
    asked_s = 0.0 if state.contactor_since_s is None else seen.now_s - state.contactor_since_s
    here = Situation(
        kettle=plan.kettle,
        learnt=plan.learnt,
        ledger=state.ledger,
        control_c=seen.control.good_c,
        control_s=seen.control.good_s,
        ambient_c=seen.ambient_c,
        limit_fraction=inputs.heater_limit_fraction,
        contactor_ready=contactor and asked_s >= CONTACTOR_S,
        applied_fraction=board.heater_permille / FULL_PERMILLE if board is not None and closed else 0.0,
        pumping=board is not None and board.pump_on,
        now_s=seen.now_s,
        dt_s=seen.dt_s,
    )
    return drive(here, wish, state.regulation, state.thermal, state.window)


def _contactor_since_s(state: State, inputs: Inputs, outputs: Outputs) -> float | None:
    if not outputs.main_contactor_on or not inputs.health.linked:
        return None
    return inputs.now_s if state.contactor_since_s is None else state.contactor_since_s


def _mash_c(seen: Seen) -> tuple[float, float] | None:
    """The coldest and the warmest of the last minute: the bed's estimate where it is controlled, else the probe's."""
    if seen.bed_c is not None:
        return seen.bed_c, seen.bed_c
    return (min(seen.path.values_c), max(seen.path.values_c)) if seen.path.whole else None


def _evidence(plan: Plan, state: State, inputs: Inputs, seen: Seen, sequenced: Sequenced) -> Evidence:
    kettle, stage, row, wish, control = plan.kettle, sequenced.stage, sequenced.row, sequenced.wish, seen.control
    step = current_step(plan, stage)
    heats, drawing_off = wish.heats, state.drawing_off(seen.now_s)
    if drawing_off or state.batch is not BatchState.RUNNING:
        armed, armed_target_c = state.evidence.armed, state.evidence.armed_target_c
    else:
        armed, armed_target_c = arming(state.evidence, wish.target_c, control.good_c)
    return Evidence(
        batch=state.batch,
        kind=None if step is None else step.kind,
        control_c=control.good_c,
        stale_s=NEVER_HEARD_S if control.heard_s is None else seen.now_s - control.heard_s,
        bad_streak=control.bad_streak,
        mostly_bad=control.mostly_bad,
        limit_c=kettle.safety.limit_c,
        over_c=None if wish.target_c is None or control.good_c is None else control.good_c - wish.target_c,
        armed=armed,
        armed_target_c=armed_target_c,
        overdue_s=_overdue_s(step, row, stage, seen.now_s) if heats else -NEVER_HEARD_S,
        hold_limit_s=row.hold_limit_s if row is not None and heats else None,
        held_s=seen.now_s - stage.begun_s,
        hands_in=row is not None and row.hands_in,
        sinking=bool(sequenced.schedule) and additions.sinking(sequenced.schedule),
        mash=state.ledger.grain is Grain.IN,
        hot_pump=calls.was_answered(stage.answered, HOT_CUP if drawing_off else HOSES)
        and (drawing_off or (row is not None and row.hot_pump)),
        heats_with_pump=row is not None and row.heats_with_pump,
        drawing_off=drawing_off,
        volume_l=state.ledger.volume_l,
        cover_l=kettle.element_cover_l,
        stale_after_s=kettle.safety.stale_after_s,
        over_allowed_c=kettle.safety.over_set_point_c,
        unlinked_s=0.0 if seen.unlinked_since_s is None else seen.now_s - seen.unlinked_since_s,
        journal_failing=inputs.journal_failing,
        wants_heat=heats,
        wants_pump=wish.pump_on,
    )


def _overdue_s(step: AnyStep | None, row: Stage | None, stage: StageState, now_s: float) -> float:
    """How far the stage is beyond twice the time it should take; far before it for one with another bound."""
    if step is None or row is None or not (row.timed or row.expects_c):
        return -NEVER_HEARD_S
    expected_s = planned_s(step, stage) if row.timed else stage.expected_s
    return now_s - stage.begun_s - 2.0 * (expected_s or 0.0)


def _ended(
    state: State, sequenced: Sequenced, acting: tuple[interlocks.Interlock, ...], seen: Seen
) -> tuple[BatchState, str | None, Events]:
    """The batch's state at the end of the tick: a rule tripped, or the last step is done."""
    if state.batch in INTERRUPTED:
        trip = next((row for row in acting if row.trips), None)
        if trip is not None:
            tripped = Event(
                code=EventCode.TRIP,
                values=(("promise", trip.promise), ("rule", trip.code), ("control_c", seen.control.good_c)),
            )
            return BatchState.HOLDING, trip.code, (tripped, _state_event(state, BatchState.HOLDING, trip.code))
    if state.batch is BatchState.RUNNING and sequenced.row is None:
        return BatchState.COMPLETE, None, (_state_event(state, BatchState.COMPLETE, None),)
    return state.batch, state.hold_cause, ()


def _state_event(state: State, to: BatchState, cause: str | None) -> Event:
    return Event(code=EventCode.BATCH_STATE, values=(("from", state.batch.value), ("to", to.value), ("cause", cause)))


def _heard(
    outputs: Outputs,
    batch: BatchState,
    open_calls: tuple[calls.Call, ...],
    records: tuple[AlarmRecord, ...],
    now_s: float,
) -> Outputs:
    """The outputs with the buzzer as loud as what there is to say."""
    buzzer = outputs.buzzer
    if records and alarms.sounding(records):
        buzzer = BUZZER_ALARM
    elif batch is BatchState.RESTARTING:
        buzzer = BUZZER_ANNOUNCE
    elif any(now_s - call.repeated_s < BUZZER_CALL_S for call in open_calls):
        buzzer = max(buzzer, BUZZER_CALL)
    return outputs if buzzer == outputs.buzzer else outputs._replace(buzzer=buzzer)
