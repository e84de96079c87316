"""Additions on their way: get ready, now, made (and, where it sinks, dissolved)."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum

from kettlebridge.core.calls import CallKind, Wanted
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.plan import Addition

READY_AHEAD_S = 180.0


class Phase(Enum):
    """How far an addition is. DUE and DISSOLVING have an open call."""

    WAITING = "waiting"
    SOON = "soon"
    DUE = "due"
    DISSOLVING = "dissolving"
    MADE = "made"


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """One addition of the step in hand. `made_before_end_s` is the real time, in the trade's way of counting."""

    addition: Addition
    phase: Phase = Phase.WAITING
    made_before_end_s: float | None = None


Schedule = tuple[Planned, ...]

CALLED: dict[Phase, CallKind] = {Phase.DUE: CallKind.ADDITION, Phase.DISSOLVING: CallKind.DISSOLVED}
OPEN = tuple(CALLED)


def schedule(additions: tuple[Addition, ...]) -> Schedule:
    """A step's additions at its begin."""
    return tuple(Planned(addition=addition) for addition in additions)


def opened(schedule_: Schedule) -> Schedule:
    """The additions that wait for the brewer."""
    return tuple([planned for planned in schedule_ if planned.phase in OPEN])


def sinking(schedule_: Schedule) -> bool:
    """Whether something that scorches is due or lies undissolved on the element."""
    return any(planned.addition.sinks for planned in opened(schedule_))


def any_open(schedule_: Schedule) -> bool:
    """Whether an addition still waits for the brewer."""
    return bool(opened(schedule_))


def wanted(schedule_: Schedule) -> tuple[Wanted, ...]:
    """The calls that open additions need."""
    return tuple(
        Wanted(kind=CALLED[planned.phase], subject=planned.addition.name, index=index)
        for index, planned in enumerate(schedule_)
        if planned.phase in OPEN
    )


def advanced(schedule_: Schedule, remaining_s: float, adds: bool) -> tuple[Schedule, tuple[Event, ...]]:
    """The schedule with `remaining_s` of the step's timer left, and what became due by it.

    Without `adds` the timer has not begun: an addition may be announced, none is due.
    """
    events: list[Event] = []
    after: list[Planned] = []
    for index, before in enumerate(schedule_):
        planned = before
        left_s = remaining_s - planned.addition.before_end_min * 60.0
        if planned.phase is Phase.WAITING and left_s <= READY_AHEAD_S:
            planned = replace(planned, phase=Phase.SOON)
            events.append(_event(EventCode.ADDITION_SOON, index, planned.addition, in_s=round(max(left_s, 0.0), 1)))
        if adds and planned.phase is Phase.SOON and left_s <= 0.0:
            planned = replace(planned, phase=Phase.DUE)
            events.append(_event(EventCode.ADDITION_DUE, index, planned.addition, grams=planned.addition.grams))
        after.append(planned)
    return (tuple(after), tuple(events)) if events else (schedule_, ())


def answered(schedule_: Schedule, index: int, remaining_s: float) -> tuple[Schedule, tuple[Event, ...]]:
    """The schedule once the brewer confirmed addition `index` made, or dissolved.

    The time that counts is that of the first confirmation.
    """
    planned = schedule_[index]
    if planned.phase is Phase.DUE:
        after = Phase.DISSOLVING if planned.addition.sinks else Phase.MADE
        planned = replace(planned, phase=after, made_before_end_s=remaining_s)
    elif planned.phase is Phase.DISSOLVING:
        planned = replace(planned, phase=Phase.MADE)
    else:
        return schedule_, ()
    events: tuple[Event, ...] = ()
    if planned.phase is Phase.MADE and planned.made_before_end_s is not None:
        made_min = round(planned.made_before_end_s / 60.0, 2)
        planned_min = planned.addition.before_end_min
        events = (
            _event(
                EventCode.ADDITION_MADE,
                index,
                planned.addition,
                planned_before_end_min=planned_min,
                made_before_end_min=made_min,
            ),
        )
    return (*schedule_[:index], planned, *schedule_[index + 1 :]), events


def _event(code: EventCode, index: int, addition: Addition, **values: float) -> Event:
    return Event(code=code, values=(("index", index), ("addition", addition.name), *values.items()))
