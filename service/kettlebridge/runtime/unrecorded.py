"""What takes the place of the record while nothing is chosen to brew: there is no batch to keep."""

from __future__ import annotations

from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.ids import BatchId
from kettlebridge.ports import BatchHeader, Journal, JournalHealth, TickEntry


class Unrecorded:
    """The Journal port, keeping nothing; the record itself goes on being watched."""

    def __init__(self, journal: Journal) -> None:
        self._journal = journal

    async def begin(self, header: BatchHeader) -> None:
        """Nothing is opened."""

    def record(self, entry: TickEntry) -> None:
        """Nothing is kept."""

    async def settled(self, batch: BatchId, n: int) -> bool:
        """Never: who asks is told that it is not on disk."""
        return False

    async def end(self, batch: BatchId, state: BatchState) -> None:
        """There is nothing to close."""

    def health(self) -> JournalHealth:
        """Of the record that the next batch will need."""
        return self._journal.health()
