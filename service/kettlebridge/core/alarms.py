"""Alarms in the lifecycle of ANSI/ISA-18.2: one cause, one alarm. The law is LIFECYCLE.

A safety alarm latches: it stays until its cause is gone and the brewer carries on at the kettle.
"""

from __future__ import annotations

from dataclasses import replace
from enum import Enum

from kettlebridge.model.alarm import PRESENT, AlarmRecord
from kettlebridge.model.alarm import AlarmState as A
from kettlebridge.model.event import Event, EventCode


class Signal(Enum):
    """What moves an alarm: its condition is there or gone, the brewer acknowledged, or reset it."""

    ACTIVE = "active"
    CLEAR = "clear"
    ACKNOWLEDGED = "acknowledged"
    RESET = "reset"


class AlarmCause(Enum):
    """Causes that are no interlock's."""

    LINK = "link"
    NO_FILL = "no_fill"
    REST_HOT = "rest_hot"
    TWICE_THE_PLAN = "twice_the_plan"
    UNANSWERED = "unanswered"
    NOT_RECORDED = "not_recorded"
    FOAM = "foam"
    LEVEL_DRY = "level_dry"
    STAYS_COLD = "stays_cold"
    HEAT_STOPPED = "heat_stopped"


LIFECYCLE: dict[tuple[A, Signal], A] = {
    (A.NORMAL, Signal.ACTIVE): A.UNACKNOWLEDGED,
    (A.UNACKNOWLEDGED, Signal.ACKNOWLEDGED): A.ACKNOWLEDGED,
    (A.UNACKNOWLEDGED, Signal.CLEAR): A.RETURNED_UNACKNOWLEDGED,
    (A.ACKNOWLEDGED, Signal.CLEAR): A.NORMAL,
    (A.RETURNED_UNACKNOWLEDGED, Signal.ACKNOWLEDGED): A.NORMAL,
    (A.RETURNED_UNACKNOWLEDGED, Signal.ACTIVE): A.UNACKNOWLEDGED,
    (A.LATCHED_UNACKNOWLEDGED, Signal.ACKNOWLEDGED): A.LATCHED_ACKNOWLEDGED,
    (A.LATCHED_UNACKNOWLEDGED, Signal.ACTIVE): A.UNACKNOWLEDGED,
    (A.LATCHED_UNACKNOWLEDGED, Signal.RESET): A.NORMAL,
    (A.LATCHED_ACKNOWLEDGED, Signal.ACTIVE): A.UNACKNOWLEDGED,
    (A.LATCHED_ACKNOWLEDGED, Signal.RESET): A.NORMAL,
}
"""An absent pair leaves the alarm as it is."""

LATCHES: dict[tuple[A, Signal], A] = {
    (A.UNACKNOWLEDGED, Signal.CLEAR): A.LATCHED_UNACKNOWLEDGED,
    (A.ACKNOWLEDGED, Signal.CLEAR): A.LATCHED_ACKNOWLEDGED,
}
"""Where a safety alarm differs."""


def moved(state: A, signal: Signal, safety: bool) -> A:
    """The state after `signal`."""
    if safety and (state, signal) in LATCHES:
        return LATCHES[state, signal]
    return LIFECYCLE.get((state, signal), state)


Alarms = tuple[AlarmRecord, ...]


def followed(alarms: Alarms, active: frozenset[tuple[str, bool]], now_s: float) -> tuple[Alarms, tuple[Event, ...]]:
    """The alarms once their conditions are known: `active` holds (cause, safety) of those that are there."""
    if not alarms and not active:
        return alarms, ()
    causes = {cause for cause, _ in active}
    after: list[AlarmRecord] = []
    events: list[Event] = []
    for record in alarms:
        signal = Signal.ACTIVE if record.cause in causes else Signal.CLEAR
        anew = signal is Signal.ACTIVE and record.state not in PRESENT
        _settle(replace(record, since_s=now_s) if anew else record, signal, after, events)
    known = {record.cause for record in alarms}
    for cause, safety in sorted(active):
        if cause not in known:
            after.append(AlarmRecord(cause=cause, state=A.UNACKNOWLEDGED, safety=safety, since_s=now_s))
            events.append(Event(code=EventCode.ALARM_RAISED, values=(("alarm", cause), ("safety", safety))))
    return tuple(after), tuple(events)


def told(alarms: Alarms, signal: Signal, cause: str | None = None) -> tuple[Alarms, tuple[Event, ...]]:
    """The alarms after the brewer's `signal`, for one cause or for all."""
    after: list[AlarmRecord] = []
    events: list[Event] = []
    for record in alarms:
        if cause is None or record.cause == cause:
            _settle(record, signal, after, events)
        else:
            after.append(record)
    return tuple(after), tuple(events)


def _settle(record: AlarmRecord, signal: Signal, after: list[AlarmRecord], events: list[Event]) -> None:
    state = moved(record.state, signal, record.safety)
    if state is not record.state:
        events.append(Event(code=EventCode.ALARM_CHANGED, values=(("alarm", record.cause), ("state", state.value))))
        record = replace(record, state=state)
    if state is not A.NORMAL:
        after.append(record)


def latched(alarms: Alarms, cause: AlarmCause, now_s: float) -> tuple[Alarms, tuple[Event, ...]]:
    """The alarms with a safety alarm that only a reset ends, and that calls nobody: whoever brought it about knows."""
    if any(record.cause == cause.value for record in alarms):
        return alarms, ()
    record = AlarmRecord(cause=cause.value, state=A.LATCHED_ACKNOWLEDGED, safety=True, since_s=now_s)
    events = (
        Event(code=EventCode.ALARM_RAISED, values=(("alarm", record.cause), ("safety", True))),
        Event(code=EventCode.ALARM_CHANGED, values=(("alarm", record.cause), ("state", record.state.value))),
    )
    return (*alarms, record), events


def standing(alarms: Alarms, cause: str) -> bool:
    """Whether that alarm's condition was there at the last tick."""
    return any(record.cause == cause and record.state in PRESENT for record in alarms)


def sounding(alarms: Alarms) -> bool:
    """Whether an alarm is there that nobody has acknowledged."""
    return any(record.state is A.UNACKNOWLEDGED for record in alarms)
