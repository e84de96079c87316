"""Alarms: what needs the brewer's response, in the lifecycle of ANSI/ISA-18.2 (IEC 62682)."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class AlarmState(Enum):
    """States of the standard. Shelving and suppression come with the full lifecycle."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED_UNACKNOWLEDGED = "returned_unacknowledged"
    LATCHED_UNACKNOWLEDGED = "latched_unacknowledged"
    LATCHED_ACKNOWLEDGED = "latched_acknowledged"


PRESENT = frozenset({AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED})
"""States of an alarm whose condition is there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmRecord:
    """`cause` names the alarm's row (a promise, a call); one cause has one record.

    `since_s` is batch time, of its newest onset.
    """

    cause: str
    state: AlarmState
    safety: bool
    since_s: float
