"""An event in one line. WORDS has a row for every code; a row may find that there is nothing to tell a person."""

from __future__ import annotations

from collections.abc import Callable

from kettlebridge.documents.amounts import degrees, duration, litres, weight
from kettlebridge.documents.arming import progress
from kettlebridge.documents.calls import asked
from kettlebridge.documents.refusals import refused
from kettlebridge.documents.stages import STAGE_WORDS
from kettlebridge.documents.states import STATE_WORDS
from kettlebridge.documents.steps import planned
from kettlebridge.documents.troubles import ALARM_WORDS, LINK_WORDS, PROBE_WORDS, TRIP_WORDS, why_paused
from kettlebridge.model.alarm import AlarmState
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.plan import Plan
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.model.units import S_PER_MIN

BY_ITSELF = "itself"
ON_TIME_MIN = 0.25
OVER_C = 0.5
SHORT_STAGES = frozenset({"begin", "wait", "hands_in", "hands_out", "ask", "start", "hoses", "reached", "hot_hold"})
"""Stages that say nothing beyond the call or the step that goes with them."""

Words = Callable[[Event, Snapshot, Plan], str | None]


def line(event: Event, snapshot: Snapshot, plan: Plan) -> str | None:
    """What happened, for the snapshot of the tick that it happened in; None where a person need not be told."""
    return WORDS[event.code](event, snapshot, plan)


def _text(event: Event, name: str) -> str:
    value = event.get(name)
    return "" if value is None else str(value)


def _batch_state(event: Event, snapshot: Snapshot, plan: Plan) -> str:
    to = BatchState(_text(event, "to"))
    words = STATE_WORDS[to]
    paused = why_paused(_text(event, "cause") or None) if to in {BatchState.HOLDING, BatchState.ABORTING} else ""
    return " ".join(part for part in (f"{words.name}.", paused) if part)


def _step_begun(event: Event, snapshot: Snapshot, plan: Plan) -> str:
    index = int(event.figure("index"))
    step = plan.profile.steps[index]
    return f"Step {index + 1} of {len(plan.profile.steps)}: {step.name}, {planned(step)}."


def _step_done(event: Event, snapshot: Snapshot, plan: Plan) -> str | None:
    return f"{_text(event, 'step')} skipped." if event.get("skipped") else None


def _stage(event: Event, snapshot: Snapshot, plan: Plan) -> str | None:
    stage = _text(event, "stage")
    step = plan.profile.steps[int(event.figure("index"))]
    if stage in SHORT_STAGES:
        return None
    return f"{step.name}: {STAGE_WORDS[step.kind, stage]}, {degrees(snapshot.temperature_c)}."


def _call_raised(event: Event, snapshot: Snapshot, plan: Plan) -> str | None:
    call = next((call for call in snapshot.calls if call.id == event.get("call")), None)
    if call is None:
        return None
    words = asked(call, plan)
    where = "At the kettle" if words.at_kettle else "For you"
    return " ".join(part for part in (f"{where}: {words.do}", words.text, words.caution) if part)


def _call_repeated(event: Event, snapshot: Snapshot, plan: Plan) -> str | None:
    call = next((call for call in snapshot.calls if call.id == event.get("call")), None)
    if call is None:
        return None
    return f"Still waiting, {duration(event.figure('open_s'))} by now: {asked(call, plan).do}"


def _call_answered(event: Event, snapshot: Snapshot, plan: Plan) -> str | None:
    by = _text(event, "by")
    return None if by == BY_ITSELF else f"Confirmed ({by})."


def _addition_soon(event: Event, snapshot: Snapshot, plan: Plan) -> str:
    in_s = event.figure("in_s")
    when = f"in {duration(in_s)}" if in_s > 0.0 else "it is next"
    return f"Get ready: {_text(event, 'addition')}, {when}."


def _addition_due(event: Event, snapshot: Snapshot, plan: Plan) -> str:
    return f"Now: {_text(event, 'addition')}, {weight(event.figure('grams') / 1000.0)}."


def _addition_made(event: Event, snapshot: Snapshot, plan: Plan) -> str:
    made_min, planned_min = event.figure("made_before_end_min"), event.figure("planned_before_end_min")
    late_min = planned_min - made_min
    how = "on time" if abs(late_min) <= ON_TIME_MIN else f"{duration(abs(late_min) * S_PER_MIN)} "
    if how != "on time":
        how += "late" if late_min > 0.0 else "early"
    return f"{_text(event, 'addition')} is in, {made_min:.1f} min before the end, {how}."


def _boil_found(event: Event, snapshot: Snapshot, plan: Plan) -> str:
    boil_c, ago_s = event.number("boil_c"), event.figure("began_s_ago")
    boils = "It boils" if boil_c is None else f"It boils, at {degrees(boil_c)}"
    return f"{boils}; it began {duration(ago_s)} ago." if ago_s > 0.0 else f"{boils}."


def _rest_reached(event: Event, snapshot: Snapshot, plan: Plan) -> str:
    return f"The rest is reached, {degrees(snapshot.temperature_c)}."


def _command_refused(event: Event, snapshot: Snapshot, plan: Plan) -> str:
    words = refused(_text(event, "reason"))
    return f"Not taken: {_text(event, 'kind')} ({_text(event, 'who')}). {words.why} {words.do}"


def _command_taken(event: Event, snapshot: Snapshot, plan: Plan) -> str | None:
    kind = _text(event, "kind")
    return None if kind == "confirm" else f"Told: {kind} ({_text(event, 'who')})."


def _trip(event: Event, snapshot: Snapshot, plan: Plan) -> str:
    words = TRIP_WORDS[_text(event, "rule")]
    return f"{words.happened} {words.now} {words.do}"


def _held(event: Event, snapshot: Snapshot, plan: Plan) -> str:
    return f"{STATE_WORDS[BatchState.HELD].name}. {why_paused(snapshot.hold_cause)}".rstrip()


def _alarm_raised(event: Event, snapshot: Snapshot, plan: Plan) -> str | None:
    cause = _text(event, "alarm")
    if cause in TRIP_WORDS and snapshot.hold_cause == cause:
        return None  # the trip of the same tick has said it all
    words = ALARM_WORDS[cause]
    return f"Alarm: {words.happened} {words.now} {words.do}"


ALARM_STATE_WORDS: dict[AlarmState, str | None] = {
    AlarmState.NORMAL: "The alarm is over: {happened}",
    AlarmState.UNACKNOWLEDGED: "The alarm is back: {happened}",
    AlarmState.ACKNOWLEDGED: None,
    AlarmState.RETURNED_UNACKNOWLEDGED: "No longer so: {happened}",
    AlarmState.LATCHED_UNACKNOWLEDGED: "No longer so, but it counts until you carry on at the kettle: {happened}",
    AlarmState.LATCHED_ACKNOWLEDGED: None,
}
"""None: whoever acknowledged knows it."""


def _alarm_changed(event: Event, snapshot: Snapshot, plan: Plan) -> str | None:
    words = ALARM_STATE_WORDS[AlarmState(_text(event, "state"))]
    return None if words is None else words.format(happened=ALARM_WORDS[_text(event, "alarm")].happened)


def _resumed(event: Event, snapshot: Snapshot, plan: Plan) -> str:
    return f"The service was away for {duration(event.figure('away_s'))}; none of that time counts."


def _probe(event: Event, snapshot: Snapshot, plan: Plan) -> str:
    fault = event.get("fault")
    told = "is well" if fault is None else PROBE_WORDS[str(fault)]
    return f"Probe {_text(event, 'probe')} {told}."


def _fill(event: Event, snapshot: Snapshot, plan: Plan) -> str:
    volume_l = event.number("volume_l")
    return "The kettle counts as empty." if volume_l is None else f"{litres(volume_l)} in the kettle."


def _measured(event: Event, snapshot: Snapshot, plan: Plan) -> str:
    if event.get("what") == "volume":
        found_l, counted_l = event.figure("volume_l"), event.figure("counted_l")
        return f"Measured: {litres(found_l)} in the kettle (at 20 °C); {litres(counted_l)} were reckoned with."
    return f"Measured: gravity {event.figure('gravity_sg'):.3f} (at 20 °C), {event.figure('plato'):.1f} °P."


def _link(event: Event, snapshot: Snapshot, plan: Plan) -> str:
    reason = event.get("reason")
    return "The board is there." if reason is None else LINK_WORDS[str(reason)].happened


def _draw_off(event: Event, snapshot: Snapshot, plan: Plan) -> str | None:
    return "Drawing off: heater off, pump on while it is asked for." if event.get("begun") else None


def _reachable(event: Event, snapshot: Snapshot, plan: Plan) -> str:
    reachable_c, to_c = event.figure("reachable_c"), event.figure("to_c")
    return f"This cooling water brings it to {degrees(reachable_c)} at best, not to {degrees(to_c)}."


def _ready_late(event: Event, snapshot: Snapshot, plan: Plan) -> str:
    late = duration(event.figure("late_s"))
    return f"It will not be ready in time, but about {late} later: heating begins now."


def _grain_temperature(event: Event, snapshot: Snapshot, plan: Plan) -> str:
    told = f"Grain of {degrees(event.figure('grain_c'))}: strike water of {degrees(event.figure('target_c'))}."
    over_c = event.figure("over_c")
    return f"{told} It is {over_c:.1f} °C too hot: cold water, or a wait with the lid off." if over_c > OVER_C else told


def _heat_up_fitted(event: Event, snapshot: Snapshot, plan: Plan) -> str:
    return (
        f"Learnt from heating up: {100.0 * event.figure('rate_fraction'):.0f} % of the expected rise, "
        f"the probe follows after {duration(event.figure('delay_s'))}."
    )


UNFIT_WORDS: dict[str, str] = {
    "rate": "it warms at quite another rate than power and litres say. See how much is in the kettle.",
    "scatter": "the probe does not follow the heat. See where it hangs.",
}


def _heat_up_unfit(event: Event, snapshot: Snapshot, plan: Plan) -> str:
    return f"Nothing learnt from heating up: {UNFIT_WORDS[_text(event, 'verdict')]}"


def _arming(event: Event, snapshot: Snapshot, plan: Plan) -> str:
    return progress(_text(event, "phase"), _text(event, "reason") or None)


WORDS: dict[EventCode, Words] = {
    EventCode.BATCH_STATE: _batch_state,
    EventCode.STEP_BEGUN: _step_begun,
    EventCode.STEP_DONE: _step_done,
    EventCode.STAGE: _stage,
    EventCode.CALL_RAISED: _call_raised,
    EventCode.CALL_REPEATED: _call_repeated,
    EventCode.CALL_ANSWERED: _call_answered,
    EventCode.ADDITION_SOON: _addition_soon,
    EventCode.ADDITION_DUE: _addition_due,
    EventCode.ADDITION_MADE: _addition_made,
    EventCode.BOIL_FOUND: _boil_found,
    EventCode.REST_REACHED: _rest_reached,
    EventCode.COMMAND_REFUSED: _command_refused,
    EventCode.COMMAND_TAKEN: _command_taken,
    EventCode.TRIP: _trip,
    EventCode.HELD: _held,
    EventCode.ALARM_RAISED: _alarm_raised,
    EventCode.ALARM_CHANGED: _alarm_changed,
    EventCode.RESUMED: _resumed,
    EventCode.PROBE: _probe,
    EventCode.FILL: _fill,
    EventCode.MEASURED: _measured,
    EventCode.LINK: _link,
    EventCode.DRAW_OFF: _draw_off,
    EventCode.REACHABLE: _reachable,
    EventCode.READY_LATE: _ready_late,
    EventCode.GRAIN_TEMPERATURE: _grain_temperature,
    EventCode.HEAT_UP_FITTED: _heat_up_fitted,
    EventCode.HEAT_UP_UNFIT: _heat_up_unfit,
    EventCode.ARMING: _arming,
}
