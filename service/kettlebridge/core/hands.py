"""How long hands take: for a call by its kind, for an ask by what it asks (common practice, no source)."""

from __future__ import annotations

from kettlebridge.brewing.timetable import (
    AWAY_MIN,
    DRAIN_MIN,
    FILL_MIN,
    INFUSING_MIN,
    LEAST_SPARGE_MIN,
    LIFT_MIN,
    PITCH_MIN,
    SPARGE_MIN_PER_L,
)
from kettlebridge.core.calls import CallKind
from kettlebridge.model.plan import AskKind
from kettlebridge.model.units import S_PER_MIN

COME_S = 60.0
"""From a call to its answer, where nothing is to be done but to come."""
HANDS_SPREAD_FRACTION = 0.4

ASK_MIN: dict[AskKind, float] = {
    AskKind.FILL: FILL_MIN,
    AskKind.DOUGH_IN: 6.0,
    AskKind.INFUSE: INFUSING_MIN,
    AskKind.STIR: 2.0,
    AskKind.LIFT: LIFT_MIN,
    AskKind.DRAIN: DRAIN_MIN,
    AskKind.BASKET_AWAY: AWAY_MIN,
    AskKind.PITCH: PITCH_MIN,
    AskKind.EMPTY: 8.0,
    AskKind.OTHER: 5.0,
}
CALL_S: dict[CallKind, float] = {CallKind.ADDITION: 30.0, CallKind.DISSOLVED: 90.0, CallKind.SPARGE_WATER: 300.0}


def ask_s(what: AskKind, litres: float | None) -> float:
    """For an ask; a sparge takes as long as its litres do."""
    if what is AskKind.SPARGE:
        return max(SPARGE_MIN_PER_L * (litres or 0.0), LEAST_SPARGE_MIN) * S_PER_MIN
    return ASK_MIN[what] * S_PER_MIN


def call_s(kind: CallKind) -> float:
    """For any other call."""
    return CALL_S.get(kind, COME_S)
