"""Where a service keeps its record, and the core that reads it as it wrote it."""

from __future__ import annotations

from pathlib import Path

from kettlebridge import __version__
from kettlebridge.core.forecast import forecast
from kettlebridge.core.snapshot import snapshot
from kettlebridge.core.state import initial
from kettlebridge.core.tick import tick
from kettlebridge.journal.fermentation import SqliteFermentation
from kettlebridge.journal.queries import SqliteRecords
from kettlebridge.ports import FermentationJournal, FermentationRecords
from kettlebridge.runtime.fold import Core

JOURNAL_NAME = "journal.sqlite"

CORE = Core(initial=initial, tick=tick, snapshot=snapshot, forecast=forecast)


def records_in(folder: Path) -> FermentationRecords:
    """The record of the service in `folder`, to be read; it need not be there yet."""
    return SqliteRecords(folder / JOURNAL_NAME, program=__version__)


def fermentation_in(folder: Path) -> FermentationJournal:
    """The same record, to be written to days after a batch, beside a service that runs."""
    return SqliteFermentation(folder / JOURNAL_NAME, program=__version__)
