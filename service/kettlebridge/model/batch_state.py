"""The states of a batch: those of ANSI/ISA-88 (IEC 61512-1)."""

from __future__ import annotations

from enum import Enum


class BatchState(Enum):
    """To a brewer "held" means held at temperature: people read "Paused, heat off" for HELD."""

    IDLE = "Idle"
    RUNNING = "Running"
    HOLDING = "Holding"
    HELD = "Held"
    RESTARTING = "Restarting"
    STOPPING = "Stopping"
    STOPPED = "Stopped"
    ABORTING = "Aborting"
    ABORTED = "Aborted"
    COMPLETE = "Complete"


ENDED = frozenset({BatchState.STOPPED, BatchState.COMPLETE})
"""States from which nothing more comes of the batch."""
