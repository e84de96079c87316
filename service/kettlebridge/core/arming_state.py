"""How far an arming is, what it asks for, and how it begins and ends. core.arming_phases has the law."""

from __future__ import annotations

from collections.abc import Callable
from enum import Enum
from typing import NamedTuple

from kettlebridge.core import calls
from kettlebridge.core.calls import Call, CallKind, Wanted
from kettlebridge.model.event import Event, EventCode


class Phase(Enum):
    """How far an arming has come."""

    NOT_ARMED = "not_armed"
    LIST = "list"
    SETTLE = "settle"
    CONTACTOR_ALONE = "contactor_alone"
    CONTACTOR_OFF = "contactor_off"
    HEATER_ALONE = "heater_alone"
    HEATER_OFF = "heater_off"
    CONTACTOR_FIRST = "contactor_first"
    DROP = "drop"
    REJOIN = "rejoin"
    CALL = "call"
    ARMED = "armed"


class Arming(NamedTuple):
    """`begun_s`, `on_ms`: when the phase began, and how long the heater's pin had been on by then.

    `lowest_c`: the coldest that was read in it. `attempt` tells one arming's calls from another's. `clock_s` is wall
    time less batch time and `volume_l` what is in the kettle, both as it began. `lease_from_s` is the report that the
    short lease counts from, `seen_on`: the heater was seen on under it. `refused` is why the last one ended, `lost`: it
    had been armed then.
    """

    phase: Phase = Phase.NOT_ARMED
    attempt: int = 0
    begun_s: float = 0.0
    lowest_c: float = 0.0
    on_ms: int = 0
    clock_s: float = 0.0
    volume_l: float = 0.0
    lease_from_s: float = 0.0
    seen_on: bool = False
    refused: str | None = None
    lost: bool = False

    @property
    def armed(self) -> bool:
        """Whether it heats by itself when it is time."""
        return self.phase is Phase.ARMED

    @property
    def under_way(self) -> bool:
        """Whether it is being armed."""
        return self.phase not in {Phase.NOT_ARMED, Phase.ARMED}


NOT_ARMED = Arming()
AS_REQUESTED = "arm_told"
"""Why an arming ended that somebody took back."""
SILENT_PHASES = frozenset({Phase.DROP, Phase.REJOIN})
"""The board is away because it was let down."""


def list_call(a: Arming) -> Wanted:
    """The evening's list, of this attempt."""
    return Wanted(kind=CallKind.EVENING_LIST, index=a.attempt)


def test_call(a: Arming) -> Wanted:
    """The call that must be heard, of this attempt."""
    return Wanted(kind=CallKind.TEST_CALL, index=a.attempt)


ASKS: dict[Phase, Callable[[Arming], Wanted]] = {Phase.LIST: list_call, Phase.CALL: test_call}
CALLS = frozenset({CallKind.EVENING_LIST, CallKind.TEST_CALL})


def without_calls(open_calls: tuple[Call, ...]) -> tuple[tuple[Call, ...], tuple[Event, ...]]:
    """The calls less those of an arming that has gone on or ended, which are closed."""
    over = tuple(call for call in open_calls if call.kind in CALLS)
    kept = tuple(call for call in open_calls if call.kind not in CALLS)
    return kept, tuple(calls.closed(call, "itself") for call in over)


def asked(a: Arming) -> tuple[Wanted, ...]:
    """The calls that the phase waits for."""
    return (ASKS[a.phase](a),) if a.phase in ASKS else ()


def begun(before: Arming, volume_l: float, now_s: float, at_utc_s: float) -> Arming:
    """An arming that begins now."""
    return Arming(
        phase=Phase.LIST, attempt=before.attempt + 1, begun_s=now_s, clock_s=at_utc_s - now_s, volume_l=volume_l
    )


def ended(a: Arming, reason: str) -> tuple[Arming, Event]:
    """Not armed, for that reason."""
    after = Arming(attempt=a.attempt, refused=reason, lost=a.armed and reason != AS_REQUESTED)
    return after, event(after.phase, reason, ended_in=a.phase)


def event(phase: Phase, reason: str | None = None, ended_in: Phase | None = None) -> Event:
    """What the record keeps of it."""
    values = (("phase", phase.value), ("reason", reason), ("ended_in", None if ended_in is None else ended_in.value))
    return Event(code=EventCode.ARMING, values=values)
