"""One tick: validate, commands, sequencer, regulator, relay window, interlocks, alarms, events. Pure.

The interlocks run last and only lower. Between two ticks there is nothing but the State.
"""

from __future__ import annotations

from typing import NamedTuple

from kettlebridge.core import alarms, arming, calls, commands, conditions, interlocks, ledger, relay_window, trail
from kettlebridge.core.arming_watch import watched
from kettlebridge.core.attendance import INTERRUPTED, attend, buttons
from kettlebridge.core.drive import Driven, controlled_bed_c, drive
from kettlebridge.core.gathering import Seen, gathered, touched
from kettlebridge.core.heat import ROOM_C
from kettlebridge.core.outputs import ALL_OFF, FULL_PERMILLE, Outputs, demands
from kettlebridge.core.probes import UNHEARD, Memories, control_memory, observe_all, value_c
from kettlebridge.core.sequencer import Sequenced, current_step, row_of, sequence
from kettlebridge.core.situation import Situation
from kettlebridge.core.stage import NOTHING, Scene, Wish
from kettlebridge.core.state import State
from kettlebridge.core.thermal import above_bed_c
from kettlebridge.model.alarm import AlarmRecord
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.demand import Demand
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.inputs import Inputs
from kettlebridge.model.kettle import ProbeRole
from kettlebridge.model.plan import Plan

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


class Told(NamedTuple):
    """What was said since the last tick made of the state; `touched`: it may have moved liquid."""

    state: State
    probes: Memories
    dt_s: float
    touched: bool
    events: Events


def tick(plan: Plan, state: State, inputs: Inputs) -> Ticked:
    """The state after `inputs`, what is demanded of the outputs, and what happened."""
    now_s, kettle, board = inputs.now_s, plan.kettle, inputs.health.board
    probes, probe_events = observe_all(kettle.probes, state.probes, inputs.readings, now_s)
    told = _told(plan, state, inputs, probes)
    seen = _seen(plan, told, inputs)
    state, probes, dt_s, _, told_events = told
    state, arming_events = watched(plan, state, inputs, seen)
    sequenced = _sequenced(plan, state, inputs, seen)
    driven = _driven(plan, state, inputs, seen, sequenced.wish)
    asked = arming.told(state.arming, now_s, inputs.heater_limit_fraction)
    driven = driven if asked.outputs is None else driven._replace(wants=asked.outputs)
    evidence = gathered(plan, state, inputs, seen, sequenced)
    outputs, timers, acting = interlocks.apply(evidence, driven.wants, state.timers, now_s)
    running = state.batch is BatchState.RUNNING
    open_calls, repeated = calls.repeat(sequenced.calls, now_s) if running else (sequenced.calls, ())
    batch, cause, ended_events = _ended(state, sequenced, acting, seen)
    here = conditions.Circumstances(acting, open_calls, state.alarms, _mash_c(seen), now_s)
    records, alarm_events = alarms.followed(state.alarms, conditions.active(evidence, here), now_s)
    same = batch is state.batch
    outputs = _heard(outputs if same else ALL_OFF, batch, open_calls, records, now_s)
    given = outputs.heater_permille == driven.wants.heater_permille
    boils = sequenced.row is not None and sequenced.row.boils
    contents = ledger.moved_on(state.ledger, kettle, _heated_permille(plan, state), boils, dt_s)
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
        arming=state.arming,
        clock_synchronised=inputs.clock_synchronised,
    )
    events = (*probe_events, *told_events, *arming_events, *sequenced.events)
    events = (*events, *driven.events, *repeated, *ended_events, *alarm_events)
    if board is None or not inputs.health.linked or not asked.renews:
        return Ticked(after, (), events)
    ttl_ms = round(kettle.safety.lease_s * 1000.0) if asked.ttl_ms is None else asked.ttl_ms
    return Ticked(after, demands(outputs, ttl_ms, board.acted_on), events)


def _told(plan: Plan, state: State, inputs: Inputs, probes: Memories) -> Told:
    """Absences, buttons, commands, and passing states that settle; and the time that counts."""
    before = state
    attended = attend(state, inputs)
    commanded = (*buttons(state, inputs), *inputs.commands)
    drawn = state.draw_off_s is not None and inputs.now_s > state.draw_off_s[0] + commands.DRAW_OFF_AGAIN_S
    if not commanded and not drawn and attended.to is None and not attended.forget:
        return Told(state, probes, attended.dt_s, False, ())
    if attended.forget:
        probes = (UNHEARD,) * len(probes)
    state = state._replace(
        probes=probes,
        now_s=inputs.now_s,
        at_utc_s=inputs.at_utc_s,
        draw_off_s=None if drawn else state.draw_off_s,
        clock_synchronised=inputs.clock_synchronised,
    )
    events = attended.events
    if attended.to is not None:
        state, changed = commands.moved(state, attended.to, attended.cause)
        events = (*events, *changed)
    for command in commanded:
        state, taken = commands.take(plan, state, command)
        events = (*events, *taken)
    return Told(state, probes, attended.dt_s, touched(before, state), events)


def _seen(plan: Plan, told: Told, inputs: Inputs) -> Seen:
    state, probes, dt_s, moved, _ = told
    control = control_memory(plan.kettle.probes, probes)
    since_s = inputs.now_s if state.unlinked_since_s is None else state.unlinked_since_s
    return Seen(
        control=control,
        probes=probes,
        bed_c=controlled_bed_c(plan.kettle, state.thermal),
        above_bed_c=above_bed_c(state.thermal),
        ambient_c=value_c(plan.kettle.probes, probes, ProbeRole.AMBIENT, ROOM_C),
        path=trail.followed(state.trail, control.good_c, state.duty_fraction, inputs.now_s),
        now_s=inputs.now_s,
        dt_s=dt_s,
        unlinked_since_s=None if inputs.health.linked else since_s,
        touched=moved,
    )


def _heated_permille(plan: Plan, state: State) -> int:
    """What the heater was told in the last tick, as far as it made heat: none without the main contactor."""
    outputs = state.outputs
    heats = state.health.linked and (outputs.main_contactor_on or not plan.kettle.has_main_contactor)
    return outputs.heater_permille if heats else 0


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
        known=state.thermal.known,
        duty_fraction=state.duty_fraction,
        now_s=seen.now_s,
        at_utc_s=inputs.at_utc_s,
        dt_s=seen.dt_s,
        arming=state.arming,
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
