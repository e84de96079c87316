"""What the loop hands to the writer thread, and what the thread tells the loop.

Ownership changes by hand-over: until an item is queued only the loop touches it, then only the thread, until the item
comes back as finished. The futures are always the loop's.
"""

from __future__ import annotations

import asyncio
from dataclasses import dataclass

from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.ids import BatchId
from kettlebridge.ports import BatchHeader, TickEntry


@dataclass(slots=True, kw_only=True, eq=False)
class Item:
    """A piece of work, queued at `at_s` of real time. `fault`: why it will never be on disk."""

    at_s: float
    fault: str | None = None

    @property
    def urgent(self) -> bool:
        """Whether somebody waits for the disk."""
        return True


@dataclass(slots=True, kw_only=True, eq=False)
class Begin(Item):
    """Open a batch's record."""

    header: BatchHeader
    done: asyncio.Future[None]


@dataclass(slots=True, kw_only=True, eq=False)
class Row(Item):
    """Write a tick and its events."""

    entry: TickEntry

    @property
    def urgent(self) -> bool:
        """As the entry says."""
        return self.entry.urgent


@dataclass(slots=True, kw_only=True, eq=False)
class Gap(Item):
    """Mark a batch's record as incomplete from tick `n`: it was dropped."""

    batch: BatchId
    n: int


@dataclass(slots=True, kw_only=True, eq=False)
class End(Item):
    """Close a batch's record."""

    batch: BatchId
    state: BatchState
    done: asyncio.Future[None]


@dataclass(slots=True, kw_only=True, eq=False)
class Close(Item):
    """Write what is there and stop."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """One round of the writer.

    `taken` left the queue and wait in the thread for the next commit. `finished` are on disk or, with a `fault`, given
    up. `failing_why`: what this round's commit failed of. `closed`: there is no further round.
    """

    taken: tuple[Item, ...] = ()
    finished: tuple[Item, ...] = ()
    failing_why: str | None = None
    closed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """How the writer spends real time and memory.

    A row without hurry waits `commit_every_s` at most: each commit costs an SD card a few pages. `commit_every_items`
    bounds a transaction. Between failed tries it waits `back_off_first_s`, then twice as long each time up to
    `back_off_longest_s`. `rows_kept`: how many may wait for the disk, two hours of one kettle (about 6 MB).
    """

    commit_every_s: float = 5.0
    commit_every_items: int = 500
    back_off_first_s: float = 0.25
    back_off_longest_s: float = 5.0
    rows_kept: int = 7200
