"""The journal as the loop sees it: queues, never waits for the disk, and knows what is on it."""

from __future__ import annotations

import asyncio
import logging
from pathlib import Path
from types import TracebackType
from typing import Self

from kettlebridge.journal.opening import Opened, open_to_write
from kettlebridge.journal.queries import SqliteRecords
from kettlebridge.journal.work import Begin, Close, End, Gap, Item, Pace, Progress, Row
from kettlebridge.journal.writer import Writer
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.errors import JournalError
from kettlebridge.model.ids import BatchId
from kettlebridge.ports import BatchHeader, Gate, JournalHealth, TickEntry

log = logging.getLogger(__name__)

STALLED_AFTER_S = 8.0
"""A row that waits longer than any commit should take says that the disk hangs, though nothing has failed yet."""


def open_journal(path: Path, *, gate: Gate, program: str, pace: Pace | None = None) -> SqliteJournal:
    """The journal at `path`, made if there is none. `program`: this program's version, for what it has to say.

    Raises JournalError, with the file as it was: not a journal, newer than the program, damaged, read-only, or
    written by another process.
    """
    return SqliteJournal(path, open_to_write(path, program), gate, program, pace or Pace())


class SqliteJournal:
    """Implements `ports.Journal`. All of it belongs to one event loop's thread, and so do all calls of the gate."""

    def __init__(self, path: Path, opened: Opened, gate: Gate, program: str, pace: Pace) -> None:
        self.records = SqliteRecords(path, program=program)
        self._path = path
        self._gate = gate
        self._pace = pace
        self._loop: asyncio.AbstractEventLoop | None = None
        self._waiting: dict[tuple[BatchId, int], Row] = {}  # not on disk, oldest first
        self._asked: dict[tuple[BatchId, int], list[asyncio.Future[bool]]] = {}
        self._gated: set[Item] = set()
        self._failing_why: str | None = None
        self._refused_why: str | None = None
        self._gaps: set[BatchId] = set()
        self._dropped = 0
        self._closed: asyncio.Future[str | None] | None = None
        self._writer = Writer(opened, self._tell, pace)
        self._writer.start()

    async def begin(self, header: BatchHeader) -> None:
        """Opens a batch's record; on disk when it returns. Raises JournalError, and then the batch is not begun."""
        loop = self._here()
        item = Begin(at_s=loop.time(), header=header, done=loop.create_future())
        self._queue(item)
        await item.done

    def record(self, entry: TickEntry) -> None:
        """Queues an entry; never waits.

        While as many rows wait as may, new ones are dropped: the record of their batch is then marked as incomplete
        from the first of them, and what follows in it can be read but not replayed.
        """
        loop = self._here()
        if len(self._waiting) >= self._pace.rows_kept:
            self._drop(entry, loop.time())
            return
        row = Row(at_s=loop.time(), entry=entry)
        self._waiting[entry.batch, entry.n] = row
        self._queue(row)

    async def settled(self, batch: BatchId, n: int) -> bool:
        """Waits until tick `n` is on disk.

        False when it could not be written: at once while writing fails, though a later try may still write it.
        """
        key = (batch, n)
        if key not in self._waiting:
            try:
                return await asyncio.to_thread(self.records.has_tick, batch, n)
            except JournalError:
                return False
        if self._failing_why is not None:
            return False
        answer: asyncio.Future[bool] = asyncio.get_running_loop().create_future()
        self._asked.setdefault(key, []).append(answer)
        return await answer

    async def end(self, batch: BatchId, state: BatchState) -> None:
        """Closes a batch's record as ended in `state`; on disk when it returns.

        While writing fails it returns at once and goes on trying: `health` tells. A batch whose end is lost is
        found unfinished, and comes back Held.
        """
        loop = self._here()
        item = End(at_s=loop.time(), batch=batch, state=state, done=loop.create_future())
        self._queue(item)
        if self._failing_why is None:
            await item.done

    def health(self) -> JournalHealth:
        """How the record stands now. A disk that does not answer counts as failing after STALLED_AFTER_S."""
        oldest = next(iter(self._waiting.values()), None)
        waiting_s = 0.0 if oldest is None or self._loop is None else self._loop.time() - oldest.at_s
        failing_why = self._failing_why or self._refused_why
        if failing_why is None and waiting_s > STALLED_AFTER_S:
            failing_why = "the disk does not answer"
        if failing_why is not None and self._dropped:
            failing_why += f"; {self._dropped} ticks dropped"
        lying_s = self._writer.lying_since_s()
        return JournalHealth(
            failing_why=failing_why,
            unwritten=len(self._waiting),
            waiting_s=waiting_s,
            writer_late_s=0.0 if lying_s is None or self._loop is None else self._loop.time() - lying_s,
        )

    async def close(self) -> None:
        """Writes what is queued and lets the next writer in. Raises JournalError when rows were lost, closed anyhow."""
        if self._closed is not None:
            return
        loop = self._here()
        self._closed = loop.create_future()
        self._writer.close(Close(at_s=loop.time()))
        lost = await self._closed
        self._writer.join()
        if lost is not None:
            raise JournalError(f"{self._path}: {lost}")

    async def __aenter__(self) -> Self:
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        await self.close()

    def _here(self) -> asyncio.AbstractEventLoop:
        """The loop that everything is reported to. Raises JournalError after `close`."""
        if self._closed is not None:
            raise JournalError(f"{self._path}: the journal is closed")
        self._loop = asyncio.get_running_loop()
        return self._loop

    def _queue(self, item: Item) -> None:
        """Accelerated time waits for what is queued, but not for a disk that fails."""
        if self._failing_why is None:
            self._gated.add(item)
            self._gate.shut()
        self._writer.put(item)

    def _drop(self, entry: TickEntry, at_s: float) -> None:
        self._dropped += 1
        if entry.batch not in self._gaps:
            self._gaps.add(entry.batch)
            log.error("journal: the queue is full: batch %s is incomplete from tick %d", entry.batch, entry.n)
            self._queue(Gap(at_s=at_s, batch=entry.batch, n=entry.n))

    def _tell(self, progress: Progress) -> None:
        """From the writer's thread to the loop's."""
        assert self._loop is not None  # noqa: S101  # set by whoever queued the first item
        try:
            self._loop.call_soon_threadsafe(self._take_note, progress)
        except RuntimeError:  # the loop is closed: nobody waits any more
            log.debug("journal: nobody is left to hear of %s", progress)

    def _take_note(self, progress: Progress) -> None:
        for item in (*progress.taken, *progress.finished):
            self._ungate(item)
        for item in progress.finished:
            self._finish(item)
        if progress.failing_why is not None:
            self._failed(progress.failing_why)
        elif progress.finished and self._failing_why is not None:
            log.warning("journal: written again; %d ticks were dropped so far", self._dropped)
            self._failing_why = None
        if progress.closed and self._closed is not None:
            lost = sum(isinstance(item, Row) and item.fault is not None for item in progress.finished)
            self._closed.set_result(f"{lost} ticks lost: {progress.failing_why}" if progress.failing_why else None)

    def _ungate(self, item: Item) -> None:
        if item in self._gated:
            self._gated.remove(item)
            self._gate.open()

    def _finish(self, item: Item) -> None:
        match item:
            case Row(entry=entry, fault=fault):
                self._refused_why = fault
                self._waiting.pop((entry.batch, entry.n), None)
                self._answer(entry.batch, entry.n, on_disk=fault is None)
            case Begin(done=done, fault=fault) if not done.done():
                if fault is None:
                    done.set_result(None)
                else:
                    done.set_exception(JournalError(f"{self._path}: {fault}"))
            case End(done=done) if not done.done():
                done.set_result(None)

    def _answer(self, batch: BatchId, n: int, *, on_disk: bool) -> None:
        for future in self._asked.pop((batch, n), ()):
            if not future.done():
                future.set_result(on_disk)

    def _failed(self, reason: str) -> None:
        """Nobody waits for a disk that fails: neither callers nor accelerated time."""
        if self._failing_why is None:
            log.error("journal: cannot be written: %s", reason)
        self._failing_why = reason
        for batch, n in tuple(self._asked):
            self._answer(batch, n, on_disk=False)
        for item in tuple(self._gated):
            self._ungate(item)
            if isinstance(item, End) and not item.done.done():
                item.done.set_result(None)
