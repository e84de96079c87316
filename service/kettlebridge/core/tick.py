"""One tick: validate, commands, sequencer, regulator, relay window, interlocks, alarms, events. Pure.

The interlocks run last and only lower. Between two ticks there is nothing but the State.
"""

from __future__ import annotations

from typing import NamedTuple

from kettlebridge.brewing.day import ROOM_C
from kettlebridge.core import arming, commands, conditions, interlocks, relay_window
from kettlebridge.core.alarms import followed as alarms_followed
from kettlebridge.core.alarms import sounding
from kettlebridge.core.arming_watch import watched
from kettlebridge.core.attendance import INTERRUPTED, attend, buttons
from kettlebridge.core.calls import Call, repeat
from kettlebridge.core.drive import Driven, controlled_bed_c, drive
from kettlebridge.core.gathering import gathered
from kettlebridge.core.here import Seen
from kettlebridge.core.ledger import after_absence, moved_on, still_claimed
from kettlebridge.core.moves import touched
from kettlebridge.core.outputs import ALL_OFF, Outputs, demands
from kettlebridge.core.probes import UNHEARD, Memories, observe_all, seats
from kettlebridge.core.sequencer import Sequenced, current_step, row_of, sequence
from kettlebridge.core.situation import Situation
from kettlebridge.core.stage import NOTHING, Scene, Wish
from kettlebridge.core.state import State
from kettlebridge.core.trail import followed as trail_followed
from kettlebridge.model.alarm import AlarmRecord
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.demand import Demand
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.inputs import Inputs
from kettlebridge.model.plan import Plan
from kettlebridge.model.units import FULL_PERMILLE

BUZZER_CALL = 1
BUZZER_ANNOUNCE = 2
BUZZER_ALARM = 3
BUZZER_CALL_S = 3.0

CONTACTOR_S = 0.5
"""Heat follows the main contactor's demand by at least this. A board refuses heat until it has been closed for 200 ms,
and the order is some time on its way."""

Events = tuple[Event, ...]
RUNNING, RESTARTING = BatchState.RUNNING, BatchState.RESTARTING


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
    running = state.batch is RUNNING
    open_calls, repeated = repeat(sequenced.calls, now_s) if running else (sequenced.calls, ())
    batch, cause, ended_events = _ended(state, sequenced, acting, seen)
    here = conditions.Circumstances(
        acting=acting, open_calls=open_calls, alarms=state.alarms, bed_c=seen.bed_c, path=seen.trail, now_s=now_s
    )
    records, alarm_events = alarms_followed(state.alarms, conditions.active(evidence, here), now_s)
    same = batch is state.batch
    outputs = _heard(outputs if same else ALL_OFF, batch, open_calls, records, now_s)
    given = outputs.heater_permille == driven.wants.heater_permille
    boils = sequenced.row is not None and sequenced.row.boils
    contents = moved_on(state.ledger, kettle, _heated_permille(plan, state), boils, dt_s)
    linked = inputs.health.linked
    after = state._replace(
        n=state.n + 1,
        now_s=now_s,
        at_utc_s=inputs.at_utc_s,
        batch=batch,
        batch_since_s=state.batch_since_s if same else now_s,
        hold_cause=cause,
        probes=probes,
        trail=seen.trail,
        stage=sequenced.stage,
        schedule=sequenced.schedule,
        calls=open_calls,
        ledger=still_claimed(contents, now_s),
        regulation=driven.regulation if given else state.regulation,
        thermal=driven.thermal,
        window=driven.window if given else relay_window.taken_down(driven.window, now_s),
        evidence=evidence,
        timers=timers,
        alarms=records,
        outputs=outputs,
        duty_fraction=driven.duty_fraction if given and same and linked else 0.0,
        contactor_since_s=_contactor_since_s(state, inputs, outputs),
        inputs_on=board.inputs if board is not None else state.inputs_on,
        unlinked_since_s=seen.unlinked_since_s,
        health=inputs.health,
        journal_failing=inputs.journal_failing,
        clock_synchronised=inputs.clock_synchronised,
    )
    events = (*probe_events, *told_events, *arming_events, *sequenced.events)
    events = (*events, *driven.events, *repeated, *ended_events, *alarm_events)
    if board is None or not linked or not asked.renews:
        return Ticked(after, (), events)
    ttl_ms = round(kettle.safety.lease_s * 1000.0) if asked.ttl_ms is None else asked.ttl_ms
    return Ticked(after, demands(outputs, ttl_ms, board.acted_on), events)


def _told(plan: Plan, state: State, inputs: Inputs, probes: Memories) -> Told:
    """Absences, buttons, commands, and passing states that settle; and the time that counts."""
    before = state
    attended = attend(state, inputs)
    commanded = (*buttons(plan.kettle, state, inputs), *inputs.commands)
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
    if inputs.resumed is not None:
        state = state._replace(ledger=after_absence(state.ledger, inputs.resumed.away_s))
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
    kettle, now_s = plan.kettle, inputs.now_s
    seated = seats(kettle.probes, probes)
    control, ambient_c = seated.control, seated.ambient.good_c
    since_s = now_s if state.unlinked_since_s is None else state.unlinked_since_s
    return Seen(
        control=control,
        seats=seated,
        bed_c=controlled_bed_c(kettle, state.thermal),
        ambient_c=ROOM_C if ambient_c is None else ambient_c,
        trail=trail_followed(state.trail, control.good_c, state.duty_fraction, now_s),
        now_s=now_s,
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
    stage = state.stage
    step = current_step(plan, stage)
    if step is None or state.batch is not RUNNING:
        return Sequenced(stage, state.schedule, state.calls, NOTHING, row_of(plan, stage))
    scene = Scene(
        plan=plan,
        step=step,
        stage=stage,
        schedule=state.schedule,
        ledger=state.ledger,
        trail=seen.trail,
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


def _ended(
    state: State, sequenced: Sequenced, acting: tuple[interlocks.Interlock, ...], seen: Seen
) -> tuple[BatchState, str | None, Events]:
    """The batch's state at the end of the tick: a rule tripped, or the last step is done."""
    if acting and state.batch in INTERRUPTED:
        trip = next((row for row in acting if row.trips), None)
        if trip is not None:
            tripped = Event(
                code=EventCode.TRIP,
                values=(("promise", trip.promise), ("rule", trip.code), ("control_c", seen.control.good_c)),
            )
            return BatchState.HOLDING, trip.code, (tripped, _state_event(state, BatchState.HOLDING, trip.code))
    if state.batch is RUNNING and sequenced.row is None:
        return BatchState.COMPLETE, None, (_state_event(state, BatchState.COMPLETE, None),)
    return state.batch, state.hold_cause, ()


def _state_event(state: State, to: BatchState, cause: str | None) -> Event:
    return Event(code=EventCode.BATCH_STATE, values=(("from", state.batch.value), ("to", to.value), ("cause", cause)))


def _heard(
    outputs: Outputs,
    batch: BatchState,
    open_calls: tuple[Call, ...],
    records: tuple[AlarmRecord, ...],
    now_s: float,
) -> Outputs:
    """The outputs with the buzzer as loud as what there is to say."""
    buzzer = outputs.buzzer
    if records and sounding(records):
        buzzer = BUZZER_ALARM
    elif batch is RESTARTING:
        buzzer = BUZZER_ANNOUNCE
    elif open_calls and any(now_s - call.repeated_s < BUZZER_CALL_S for call in open_calls):
        buzzer = max(buzzer, BUZZER_CALL)
    return outputs if buzzer == outputs.buzzer else outputs._replace(buzzer=buzzer)
