"""The composition root: a running service out of files. The only room that knows every other."""

from __future__ import annotations

from kettlebridge.app.next_batches import NextInLine, Opener
from kettlebridge.app.record import CORE, JOURNAL_NAME, fermentation_in, records_in
from kettlebridge.app.running import run_service
from kettlebridge.app.service import NothingToBrewError, Service
from kettlebridge.app.setting import Assignment, Setting

__all__ = [
    "CORE",
    "JOURNAL_NAME",
    "Assignment",
    "NextInLine",
    "NothingToBrewError",
    "Opener",
    "Service",
    "Setting",
    "fermentation_in",
    "records_in",
    "run_service",
]
