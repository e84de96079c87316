"""Calls: what is asked of the brewer and stays open until it is answered."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum

from kettlebridge.model.event import Event, EventCode


class CallKind(Enum):
    """Every kind of call. CALL_ROWS says what each needs."""

    ASK = "ask"
    HANDS_CLEAR = "hands_clear"
    PRESENT = "present"
    STAND_BY = "stand_by"
    BOILING = "boiling"
    HOSES = "hoses"
    ADDITION = "addition"
    DISSOLVED = "dissolved"
    REST_BELOW = "rest_below"
    COOL = "cool"
    CHILLER_ON = "chiller_on"
    CHILLED = "chilled"
    TRANSFERRED = "transferred"
    SPARGE_WATER = "sparge_water"
    EVENING_LIST = "evening_list"
    TEST_CALL = "test_call"
    COLD = "cold"


@dataclass(frozen=True, slots=True, kw_only=True)
class CallRow:
    """`at_kettle`: hands are in danger, so only the kettle's button or posted code answers.

    `repeat_s`: how often it is raised again until it is answered. `alarm_s`: open for longer, it is an alarm.
    """

    at_kettle: bool
    repeat_s: float = 60.0
    alarm_s: float = 600.0


NEVER_S = 1e9
"""For a call that has an alarm of its own from the first."""
CALL_ROWS: dict[CallKind, CallRow] = {
    CallKind.ASK: CallRow(at_kettle=False, repeat_s=300.0, alarm_s=1800.0),
    CallKind.HANDS_CLEAR: CallRow(at_kettle=True),
    CallKind.PRESENT: CallRow(at_kettle=False, repeat_s=300.0),
    CallKind.STAND_BY: CallRow(at_kettle=True),
    CallKind.BOILING: CallRow(at_kettle=True),
    CallKind.HOSES: CallRow(at_kettle=True),
    CallKind.ADDITION: CallRow(at_kettle=False, alarm_s=180.0),
    CallKind.DISSOLVED: CallRow(at_kettle=True, alarm_s=300.0),
    CallKind.REST_BELOW: CallRow(at_kettle=False, repeat_s=300.0),
    CallKind.COOL: CallRow(at_kettle=False, repeat_s=300.0, alarm_s=3600.0),
    CallKind.CHILLER_ON: CallRow(at_kettle=False, repeat_s=300.0),
    CallKind.CHILLED: CallRow(at_kettle=False, repeat_s=300.0),
    CallKind.TRANSFERRED: CallRow(at_kettle=False, repeat_s=300.0, alarm_s=3600.0),
    CallKind.SPARGE_WATER: CallRow(at_kettle=False, repeat_s=300.0, alarm_s=3600.0),
    CallKind.EVENING_LIST: CallRow(at_kettle=True),
    CallKind.TEST_CALL: CallRow(at_kettle=True, repeat_s=20.0),
    CallKind.COLD: CallRow(at_kettle=True, repeat_s=300.0, alarm_s=NEVER_S),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Call:
    """An open call. `subject` says what about: the ask's kind, an addition's name; `index` an addition's place."""

    id: str
    kind: CallKind
    subject: str
    raised_s: float
    repeated_s: float
    at_kettle: bool
    index: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """A call that a stage wants open. `at_kettle` makes any kind one for the kettle."""

    kind: CallKind
    subject: str = ""
    index: int = 0
    at_kettle: bool = False


HOSES = Wanted(kind=CallKind.HOSES)
"""Hoses clamped, outlet secured: for what the step pumps."""
HOT_CUP = Wanted(kind=CallKind.HOSES, index=1)
"""Hoses and outlet for drawing a cup of hot liquid: apart from the step's own, which is about what it pumps."""

Answered = tuple[tuple[CallKind, int], ...]


def was_answered(answered: Answered, wanted: Wanted) -> bool:
    """Whether that need is among those a step had answered."""
    return (wanted.kind, wanted.index) in answered


def call_id(step_index: int, wanted: Wanted) -> str:
    """The same for the same need, whenever it is computed."""
    return f"{step_index}.{wanted.kind.value}.{wanted.index}"


def raise_call(
    calls: tuple[Call, ...], step_index: int, wanted: Wanted, now_s: float
) -> tuple[tuple[Call, ...], Event]:
    """The calls with `wanted` among them, and the event that says so."""
    call = Call(
        id=call_id(step_index, wanted),
        kind=wanted.kind,
        subject=wanted.subject,
        raised_s=now_s,
        repeated_s=now_s,
        at_kettle=CALL_ROWS[wanted.kind].at_kettle or wanted.at_kettle,
        index=wanted.index,
    )
    event = Event(
        code=EventCode.CALL_RAISED,
        values=(("call", call.id), ("kind", call.kind.value), ("subject", call.subject), ("at_kettle", call.at_kettle)),
    )
    return (*calls, call), event


def closed(call: Call, by: str) -> Event:
    """The event that says that `call` is open no more."""
    return Event(code=EventCode.CALL_ANSWERED, values=(("call", call.id), ("by", by)))


def find(calls: tuple[Call, ...], id_: str) -> Call | None:
    """The open call with that id."""
    for call in calls:
        if call.id == id_:
            return call
    return None


def without(calls: tuple[Call, ...], id_: str) -> tuple[Call, ...]:
    """The calls less the one with that id."""
    return tuple(call for call in calls if call.id != id_)


def repeat(calls: tuple[Call, ...], now_s: float) -> tuple[tuple[Call, ...], tuple[Event, ...]]:
    """Raises again what has waited its row's time."""
    if not calls:
        return calls, ()
    due = [call for call in calls if now_s - call.repeated_s >= CALL_ROWS[call.kind].repeat_s]
    if not due:
        return calls, ()
    again = tuple(replace(call, repeated_s=now_s) if call in due else call for call in calls)
    events = tuple(
        Event(code=EventCode.CALL_REPEATED, values=(("call", call.id), ("open_s", round(now_s - call.raised_s, 1))))
        for call in due
    )
    return again, events
