"""The one thread that writes. It encodes, inserts and commits; when that fails it keeps everything and tries again.

Its law: an item is finished without a fault only after the commit that holds it has returned. Items are written in the
order they were queued, in one short transaction; one that fails is rolled back whole and written again whole, so a
row is in the file once or not at all.
"""

from __future__ import annotations

import logging
import sqlite3
from collections import deque
from collections.abc import Callable
from dataclasses import replace
from itertools import islice
from queue import Empty, SimpleQueue
from threading import Event, Thread

from kettlebridge.journal.opening import Opened
from kettlebridge.journal.plain_words import why
from kettlebridge.journal.tables import Tables
from kettlebridge.journal.work import Begin, Close, Item, Pace, Progress, Row

log = logging.getLogger(__name__)

_ITEMS_OWN = (sqlite3.IntegrityError, sqlite3.ProgrammingError, sqlite3.DataError, sqlite3.InterfaceError)
"""What SQLite says of values; whatever else it says is about the file or the disk."""


class Writer:
    """Takes items from `put` and tells `report`, in its own thread, of every round."""

    def __init__(self, opened: Opened, report: Callable[[Progress], None], pace: Pace) -> None:
        self._opened = opened
        self._connection = opened.connection
        self._report = report
        self._pace = pace
        self._tables = Tables(opened.connection)
        self._queue: SimpleQueue[Item] = SimpleQueue()  # bounded by the store, which counts what is in flight
        self._lying_s: deque[float] = deque()  # when each item in the queue was put there
        self._at_disk = False
        self._kept: deque[Item] = deque()  # out of the queue, not on disk
        self._seen_s = 0.0  # the latest real time known here: when the newest item was queued
        self._due = False
        self._failing = False
        self._back_off_s = pace.back_off_first_s
        self._closing = Event()
        self._thread = Thread(target=self._run, name="journal writer", daemon=True)

    def start(self) -> None:
        """Once."""
        self._thread.start()

    def put(self, item: Item) -> None:
        """Queues `item`; never waits."""
        self._lying_s.append(item.at_s)
        self._queue.put(item)

    def lying_since_s(self) -> float | None:
        """Since when something was queued and not taken, though the thread waits for no disk. None: nothing is."""
        try:
            return None if self._at_disk else self._lying_s[0]
        except IndexError:
            return None

    def close(self, item: Close) -> None:
        """What is queued gets one more try, without waiting; then the last Progress says `closed`."""
        self.put(item)
        self._closing.set()

    def join(self) -> None:
        """Returns when the thread has ended."""
        self._thread.join()

    def _run(self) -> None:
        closed = False
        while not closed:
            taken = self._fetch()
            if not self._due:
                self._report(Progress(taken=taken))
                continue
            self._at_disk = True
            try:
                progress = self._commit()
            except Exception as error:  # noqa: BLE001  # whatever it is, health tells of it: this thread must not die
                progress = self._fail(error)
            before = len(self._kept)
            self._drain()  # what came while it waited for the disk has not been left lying
            progress = replace(progress, taken=tuple(islice(self._kept, before, None)))
            self._at_disk = self._failing  # between two tries it waits for the disk too
            closed = progress.closed
            if closed:
                self._close_file()
            self._report(progress)

    def _fetch(self) -> tuple[Item, ...]:
        """Waits for an item or until a commit is due, and takes all that is queued."""
        before = len(self._kept)
        if self._failing:
            self._closing.wait(self._back_off_s)
            self._back_off_s = min(2 * self._back_off_s, self._pace.back_off_longest_s)
        elif not self._kept:
            self._take(self._queue.get())
        elif not self._due:
            try:
                self._take(self._queue.get(timeout=self._left_s()))
            except Empty:
                self._due = True
        self._drain()
        if len(self._kept) >= self._pace.commit_every_items:
            self._due = True
        return tuple(islice(self._kept, before, None))

    def _drain(self) -> None:
        while not self._queue.empty():  # nobody else takes from it
            self._take(self._queue.get_nowait())

    def _take(self, item: Item) -> None:
        self._lying_s.popleft()
        self._kept.append(item)
        self._seen_s = item.at_s
        self._due = self._due or item.urgent

    def _left_s(self) -> float:
        """Until the oldest kept item has waited long enough, counted from when the newest one was queued."""
        return max(0.0, self._kept[0].at_s + self._pace.commit_every_s - self._seen_s)

    def _commit(self) -> Progress:
        """The oldest items, onto the disk."""
        items = tuple(islice(self._kept, self._pace.commit_every_items))
        self._connection.execute("BEGIN IMMEDIATE")
        for item in items:
            self._put(item)
        self._connection.execute("COMMIT")
        for _ in items:
            self._kept.popleft()
        self._due = bool(self._kept)
        self._failing = False
        self._back_off_s = self._pace.back_off_first_s
        return Progress(finished=items, closed=any(isinstance(item, Close) for item in items))

    def _put(self, item: Item) -> None:
        """Writes `item`; one that can never be written is given up, so that the others are not held back by it."""
        item.fault = None  # of a try that was rolled back
        try:
            self._tables.put(item)
        except Exception as error:
            if isinstance(error, sqlite3.DatabaseError | MemoryError) and not isinstance(error, _ITEMS_OWN):
                raise
            item.fault = why(error)
            log.error("journal: given up: %s", item.fault)
            if isinstance(item, Row):
                self._tables.lost(item)

    def _fail(self, error: Exception) -> Progress:
        """Everything stays, except that a batch which cannot be recorded now must not begin later, unasked."""
        self._failing = True
        reason = why(error)
        self._tables.forget()
        try:
            if self._connection.in_transaction:
                self._connection.execute("ROLLBACK")
        except sqlite3.Error as worse:
            log.error("journal: a failed transaction could not be taken back: %s", why(worse))
        self._drain()
        closed = any(isinstance(item, Close) for item in self._kept)
        given_up = tuple(item for item in self._kept if closed or isinstance(item, Begin))
        for item in given_up:
            item.fault = reason
        self._kept = deque(item for item in self._kept if not (closed or isinstance(item, Begin)))
        self._due = bool(self._kept)
        self._failing = self._due
        return Progress(finished=given_up, failing_why=reason, closed=closed)

    def _close_file(self) -> None:
        try:
            self._opened.close()
        except sqlite3.Error as error:  # what was committed is in the write-ahead log, and is found there
            log.warning("journal: not closed in order: %s", why(error))
