"""What happens while the file cannot be written: nothing waits, nothing acknowledged is lost, and it is told."""

from __future__ import annotations

import asyncio
import logging
import re
import resource
import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path

import pytest

from kettlebridge.journal.queries import SqliteRecords
from kettlebridge.journal.store import SqliteJournal, open_journal
from kettlebridge.journal.tables import Tables
from kettlebridge.journal.work import Item, Pace
from kettlebridge.journal.writer import Writer
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.errors import JournalError
from tests.journal.builders import entry, header
from tests.journal.gate import ThreadBoundGate

BATCH = header().batch
TAKE = Writer._take
QUICK = Pace(back_off_first_s=0.01, back_off_longest_s=0.02, rows_kept=20)


@contextmanager
def full_disk(path: Path) -> Iterator[None]:
    """The kernel itself refuses every write beyond what the files hold now."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (path.with_name(f"{path.name}-wal").stat().st_size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


@contextmanager
def locked(path: Path) -> Iterator[None]:
    """Another program, a shell perhaps, holds SQLite's write lock."""
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    try:
        yield
    finally:
        other.close()


@pytest.fixture
def gate() -> ThreadBoundGate:
    return ThreadBoundGate()


@pytest.fixture
def journal(path: Path, gate: ThreadBoundGate) -> SqliteJournal:
    return open_journal(path, gate=gate, program="0.1.0", pace=QUICK)


async def until(true: Callable[[], bool]) -> None:
    async with asyncio.timeout(10.0):
        while not true():  # noqa: ASYNC110  # what is waited for is the journal's own account, which wakes nobody
            await asyncio.sleep(0.002)


@pytest.mark.parametrize(("trouble", "words"), [(full_disk, "SQLITE_(FULL|IOERR)"), (locked, "locked")])
async def test_rows_are_kept_while_writing_fails_and_written_when_it_works_again(
    journal: SqliteJournal,
    path: Path,
    gate: ThreadBoundGate,
    trouble: Callable[[Path], AbstractContextManager[None]],
    words: str,
) -> None:
    journal._writer._connection.execute("PRAGMA busy_timeout = 5")
    async with journal:
        await journal.begin(header())
        with trouble(path):
            for n in range(10):
                journal.record(entry(n, urgent=n == 9))
            assert not await journal.settled(BATCH, 9)
            health = journal.health()
            assert health.unwritten == 10
            assert health.failing_why is not None
            assert re.search(words, health.failing_why)
            assert gate.count == 0  # accelerated time goes on
            journal.record(entry(10))
            assert not await journal.settled(BATCH, 10)  # at once: nobody waits for a disk that fails
            assert gate.count == 0
        await until(lambda: journal.health().failing_why is None)
        assert await journal.settled(BATCH, 10)
        assert journal.health().unwritten == 0
    assert [n for n, _ in SqliteRecords(path, program="0.1.0").ticks(BATCH)] == list(range(11))


async def test_a_transaction_that_fails_half_way_is_taken_back_whole(
    journal: SqliteJournal, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put, calls = Tables.put, 0

    def put_but_once(tables: Tables, item: Item) -> None:
        nonlocal calls
        calls += 1
        if calls == 3:
            raise MemoryError
        put(tables, item)

    async with journal:
        await journal.begin(header())
        monkeypatch.setattr(Tables, "put", put_but_once)
        for n in range(5):
            journal.record(entry(n))
        journal.record(entry(5, urgent=True))
        assert not await journal.settled(BATCH, 5)
        assert "MemoryError" in str(journal.health().failing_why)
        await until(lambda: journal.health().failing_why is None)
        assert [n for n, _ in journal.records.ticks(BATCH)] == list(range(6))


async def test_a_full_queue_drops_what_comes_after_and_marks_the_record(
    journal: SqliteJournal, path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    async with journal:
        await journal.begin(header())
        with full_disk(path):
            for n in range(30):
                journal.record(entry(n, urgent=True))
            assert not await journal.settled(BATCH, 0)
            assert "10 ticks dropped" in str(journal.health().failing_why)
            assert not await journal.settled(BATCH, 25)  # dropped
            assert journal.health().unwritten == 20
        await until(lambda: journal.health().failing_why is None)
        journal.record(entry(30, urgent=True))
        assert await journal.settled(BATCH, 30)
        assert await journal.settled(BATCH, 19)
        assert not await journal.settled(BATCH, 20)
        assert journal.records.batches()[0].incomplete_from == 20
        replay = journal.records.ticks(BATCH)
        assert [next(replay)[0] for _ in range(20)] == list(range(20))
        with pytest.raises(JournalError, match="incomplete from tick 20"):
            next(replay)
    told = [record.message for record in caplog.records if record.levelno >= logging.WARNING]
    assert len(told) == 3, told  # one line on loss, one on the gap, one on return


async def test_a_record_that_ends_in_a_gap_is_marked_too(journal: SqliteJournal, path: Path) -> None:
    async with journal:
        await journal.begin(header())
        with full_disk(path):
            for n in range(25):
                journal.record(entry(n, urgent=True))
            assert not await journal.settled(BATCH, 0)
            await journal.end(BATCH, BatchState.COMPLETE)  # returns though it is not on disk
        await until(lambda: journal.health().failing_why is None)
        (summary,) = journal.records.batches()
        assert (summary.ended, summary.incomplete_from) == (BatchState.COMPLETE, 20)
        with pytest.raises(JournalError, match="incomplete from tick 20"):
            list(journal.records.ticks(BATCH))


async def test_a_batch_that_could_not_be_begun_does_not_begin_later(journal: SqliteJournal, path: Path) -> None:
    async with journal:
        await journal.begin(header())
        with full_disk(path):
            with pytest.raises(JournalError, match="SQLITE_"):
                await journal.begin(header("second"))
            with pytest.raises(JournalError, match="SQLITE_"):
                await journal.begin(header("third"))
        await journal.begin(header("fourth"))
        assert journal.health().failing_why is None
        assert [summary.batch for summary in journal.records.batches()] == ["fourth", BATCH]


async def test_closing_tries_once_more_and_says_what_was_lost(journal: SqliteJournal, path: Path) -> None:
    await journal.begin(header())
    journal.record(entry(0, urgent=True))
    assert await journal.settled(BATCH, 0)
    with full_disk(path):
        journal.record(entry(1, urgent=True))
        journal.record(entry(2))
        waiting = asyncio.create_task(journal.settled(BATCH, 1))
        with pytest.raises(JournalError, match="2 ticks lost"):
            await journal.close()
        assert not await waiting
    async with open_journal(path, gate=ThreadBoundGate(), program="0.1.0") as again:
        assert [n for n, _ in again.records.ticks(BATCH)] == [0]


async def test_a_disk_that_hangs_is_told_though_nothing_has_failed(
    journal: SqliteJournal, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    journal._writer._connection.execute("PRAGMA busy_timeout = 60000")
    async with journal:
        await journal.begin(header())
        with locked(path):  # the writer now waits inside SQLite
            journal.record(entry(0, urgent=True))
            waiting = asyncio.create_task(journal.settled(BATCH, 0))
            loop = asyncio.get_running_loop()
            recorded_s = loop.time()
            assert journal.health().failing_why is None
            with monkeypatch.context() as patch:
                patch.setattr(loop, "time", lambda: recorded_s + 9.0)
                health = journal.health()
            assert health.failing_why == "the disk does not answer"
            assert 8.9 < health.waiting_s < 9.1
            journal.record(entry(1))  # and the loop does not wait
            assert not waiting.done()
        assert await waiting


async def test_a_writer_that_hangs_is_late_and_one_that_waits_for_the_disk_is_not(
    journal: SqliteJournal, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    journal._writer._connection.execute("PRAGMA busy_timeout = 60000")
    loop = asyncio.get_running_loop()
    go_on = threading.Event()

    def late_s(after_s: float) -> float:
        now_s = loop.time() + after_s
        with monkeypatch.context() as patch:
            patch.setattr(loop, "time", lambda: now_s)
            return journal.health().writer_late_s

    async with journal:
        await journal.begin(header())
        with locked(path):
            journal.record(entry(0, urgent=True))
            await until(lambda: journal._writer._at_disk)
            journal.record(entry(1))
            assert late_s(30.0) == 0.0
        assert await journal.settled(BATCH, 0)
        assert late_s(30.0) == 0.0  # nothing lies there
        with monkeypatch.context() as patch:
            patch.setattr(Writer, "_take", lambda writer, item: (go_on.wait(), TAKE(writer, item)))
            journal.record(entry(2))
            assert 29.0 < late_s(30.0) < 31.0
            go_on.set()
            await until(lambda: late_s(30.0) == 0.0)
