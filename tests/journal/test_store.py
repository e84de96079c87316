"""What is written is there, in order, once, and nobody waits who need not."""

from __future__ import annotations

import asyncio
import dataclasses
import math
from pathlib import Path

import pytest

from kettlebridge.journal.queries import SqliteRecords
from kettlebridge.journal.store import SqliteJournal, open_journal
from kettlebridge.journal.work import Pace
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.errors import JournalError
from kettlebridge.model.ids import BatchId, KettleId
from kettlebridge.ports import Journal, Records
from tests.journal.builders import entry, header, inputs_at, step_begun
from tests.journal.gate import ThreadBoundGate

BATCH = header().batch
SLOW = Pace(commit_every_s=3600.0)
"""Commits only when asked to: what is on disk is then the doing of an urgent row."""


def opened(path: Path, pace: Pace | None = None) -> SqliteJournal:
    return open_journal(path, gate=ThreadBoundGate(), program="0.1.0", pace=pace)


def on_disk(path: Path) -> list[int]:
    return [n for n, _ in SqliteRecords(path, program="0.1.0").ticks(BATCH)]


async def test_a_batch_reads_back_as_it_was_recorded(path: Path) -> None:
    async with opened(path) as journal:
        writing: Journal = journal
        reading: Records = journal.records
        await writing.begin(header())
        for n in range(20):
            writing.record(entry(n, events=(step_begun(n), step_begun(n + 1)) if n % 7 == 0 else ()))
        writing.record(entry(20, urgent=True))
        assert await writing.settled(BATCH, 20)
        await writing.end(BATCH, BatchState.COMPLETE)

        assert reading.header(BATCH) == header()
        assert list(reading.ticks(BATCH)) == [(n, inputs_at(n)) for n in range(21)]
        assert list(reading.events(BATCH)) == [(n, step_begun(n + i)) for n in (0, 7, 14) for i in (0, 1)]
        (summary,) = reading.batches()
        assert (summary.profile, summary.ended, summary.ticks) == ("Pale ale", BatchState.COMPLETE, 21)
        assert summary.incomplete_from is None


async def test_a_row_without_hurry_waits_for_the_interval_and_an_urgent_one_does_not(path: Path) -> None:
    gate = ThreadBoundGate()
    async with open_journal(path, gate=gate, program="0.1.0", pace=SLOW) as journal:
        await journal.begin(header())
        journal.record(entry(0))
        asked = asyncio.create_task(journal.settled(BATCH, 0))
        journal.record(entry(1))
        await gate.until_open()
        assert on_disk(path) == []
        assert not asked.done()
        assert journal.health().unwritten == 2
        journal.record(entry(2, urgent=True))
        assert await journal.settled(BATCH, 2)
        assert await asked
        assert on_disk(path) == [0, 1, 2]
        assert journal.health() == dataclasses.replace(journal.health(), failing_why=None, unwritten=0, waiting_s=0.0)


async def test_the_interval_runs_from_the_oldest_row_and_needs_no_further_row(path: Path) -> None:
    async with opened(path, Pace(commit_every_s=0.05)) as journal:
        await journal.begin(header())
        journal.record(entry(0))
        assert await asyncio.wait_for(journal.settled(BATCH, 0), 5.0)


async def test_a_steady_stream_is_committed_by_the_clock(path: Path) -> None:
    async with opened(path, Pace(commit_every_s=0.05)) as journal:
        await journal.begin(header())
        n = 0
        while not on_disk(path):
            journal.record(entry(n))
            n += 1
            assert n < 5000
            await asyncio.sleep(0.001)


async def test_so_many_rows_are_committed_without_hurry_or_time(path: Path) -> None:
    async with opened(path, dataclasses.replace(SLOW, commit_every_items=10)) as journal:
        await journal.begin(header())
        for n in range(25):
            journal.record(entry(n))
        assert await journal.settled(BATCH, 9)
        assert len(on_disk(path)) >= 10


async def test_closing_writes_what_is_queued(path: Path, tmp_path: Path) -> None:
    journal = opened(path, SLOW)
    await journal.begin(header())
    for n in range(100):
        journal.record(entry(n))
    await journal.close()
    await journal.close()
    files = await asyncio.to_thread(lambda: sorted(file.name for file in tmp_path.iterdir()))
    assert files == ["journal.db", "journal.db.lock"]
    assert on_disk(path) == list(range(100))
    with pytest.raises(JournalError, match="closed"):
        journal.record(entry(100))


async def test_a_batch_goes_on_after_the_journal_was_opened_again(path: Path) -> None:
    async with opened(path) as journal:
        await journal.begin(header())
        journal.record(entry(0, urgent=True))
        assert await journal.settled(BATCH, 0)
    async with opened(path) as journal:
        assert journal.records.unfinished(KettleId("copper")) == BATCH
        assert await journal.settled(BATCH, 0)  # of the time before
        assert not await journal.settled(BATCH, 1)
        journal.record(entry(1, urgent=True))
        assert await journal.settled(BATCH, 1)
        await journal.end(BATCH, BatchState.STOPPED)
        assert journal.records.unfinished(KettleId("copper")) is None
    assert on_disk(path) == [0, 1]


async def test_kettles_share_a_journal_and_keep_their_batches(path: Path) -> None:
    async with opened(path) as journal:
        await journal.begin(header("copper-1"))
        await journal.begin(header("tin-1", "tin"))
        await journal.begin(header("copper-2"))
        for n in range(3):
            journal.record(entry(n, batch="copper-2"))
            journal.record(entry(n, batch="tin-1", urgent=True))
        assert await journal.settled(BatchId("tin-1"), 2)
        assert [summary.batch for summary in journal.records.batches()] == ["copper-2", "tin-1", "copper-1"]
        assert journal.records.unfinished(KettleId("copper")) == "copper-2"
        assert journal.records.unfinished(KettleId("tin")) == "tin-1"
        assert journal.records.unfinished(KettleId("brass")) is None
        assert len(list(journal.records.ticks(BatchId("copper-2")))) == 3


async def test_a_batch_cannot_be_begun_twice(path: Path) -> None:
    async with opened(path) as journal:
        await journal.begin(header())
        with pytest.raises(JournalError, match="record already"):
            await journal.begin(header())
        journal.record(entry(0, urgent=True))
        assert await journal.settled(BATCH, 0)


async def test_a_plan_that_cannot_be_written_is_refused_and_holds_up_nobody(path: Path) -> None:
    async with opened(path) as journal:
        plan = dataclasses.replace(header().plan, ready_at_utc_s=math.inf)
        with pytest.raises(JournalError, match="plan"):
            await journal.begin(dataclasses.replace(header("odd"), plan=plan))
        await journal.begin(header())
        assert [summary.batch for summary in journal.records.batches()] == [BATCH]


async def test_time_is_held_until_the_writer_has_the_row_and_for_an_urgent_one_the_disk(path: Path) -> None:
    gate = ThreadBoundGate()
    async with open_journal(path, gate=gate, program="0.1.0", pace=SLOW) as journal:
        await journal.begin(header())
        assert (gate.count, gate.total) == (0, 1)
        journal.record(entry(0))
        assert gate.most == 1
        await gate.until_open()
        assert on_disk(path) == []
        journal.record(entry(1, urgent=True))
        await gate.until_open()
        assert on_disk(path) == [0, 1]
        await journal.end(BATCH, BatchState.COMPLETE)
        assert gate.total == 4


@pytest.mark.parametrize("strange", ["a time that is not a number", "a value that is no value", "written twice"])
async def test_a_row_that_cannot_be_written_is_told_and_holds_back_no_other(path: Path, strange: str) -> None:
    odd = entry(1, urgent=True)
    if strange == "a time that is not a number":
        odd = dataclasses.replace(odd, inputs=dataclasses.replace(odd.inputs, now_s=math.nan))
    elif strange == "a value that is no value":
        no_inputs: object = None
        odd = dataclasses.replace(odd, inputs=no_inputs)  # type: ignore[arg-type]  # a bug elsewhere
    else:
        odd = entry(0, urgent=True)
    async with opened(path, SLOW) as journal:
        await journal.begin(header())
        journal.record(entry(0, urgent=True))
        assert await journal.settled(BATCH, 0)
        journal.record(odd)
        assert not await journal.settled(odd.batch, odd.n)
        assert journal.health().failing_why is not None
        journal.record(entry(2, urgent=True))
        assert await journal.settled(BATCH, 2)
        assert journal.health().failing_why is None
        assert journal.records.batches()[0].incomplete_from == 1


async def test_a_row_of_a_batch_that_was_never_begun_is_told(path: Path) -> None:
    async with opened(path) as journal:
        journal.record(entry(0, urgent=True))
        assert not await journal.settled(BATCH, 0)
        assert "never begun" in str(journal.health().failing_why)


async def test_a_tick_that_never_came_ends_the_replay_but_not_the_events(path: Path) -> None:
    async with opened(path) as journal:
        await journal.begin(header())
        for n in (0, 1, 4, 5):
            journal.record(entry(n, urgent=True, events=(step_begun(n),)))
        assert await journal.settled(BATCH, 5)
        ticks = journal.records.ticks(BATCH)
        assert [next(ticks)[0], next(ticks)[0]] == [0, 1]
        with pytest.raises(JournalError, match="incomplete from tick 2"):
            next(ticks)
        assert [n for n, _ in journal.records.events(BATCH)] == [0, 1, 4, 5]
        assert journal.records.batches()[0].incomplete_from == 2


async def test_one_who_stops_waiting_disturbs_nobody(path: Path) -> None:
    async with opened(path, SLOW) as journal:
        await journal.begin(header())
        journal.record(entry(0))
        impatient, patient = (asyncio.create_task(journal.settled(BATCH, 0)) for _ in range(2))
        await asyncio.sleep(0)
        impatient.cancel()
        journal.record(entry(1, urgent=True))
        assert await patient


async def test_a_commit_is_on_the_disk_and_not_only_in_memory(path: Path) -> None:
    """What SQLite needs for that: a write-ahead log, synced at each commit (https://sqlite.org/pragma.html)."""
    async with opened(path) as journal:
        connection = journal._writer._connection
        assert connection.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        assert connection.execute("PRAGMA synchronous").fetchone() == (2,)  # FULL


async def test_unknown_batches_and_missing_journals_are_told_apart(path: Path) -> None:
    records = SqliteRecords(path, program="0.1.0")
    with pytest.raises(JournalError, match="no such journal"):
        records.batches()
    assert not await asyncio.to_thread(path.exists)
    async with opened(path):
        for ask in (records.header, lambda batch: list(records.ticks(batch)), lambda b: list(records.events(b))):
            with pytest.raises(JournalError, match="no batch nowhere"):
                ask(BatchId("nowhere"))
        with pytest.raises(JournalError, match="cannot be written to"), records._reading("x") as connection:
            connection.execute("DELETE FROM batch")


async def test_a_day_of_ticks_takes_no_more_than_three_and_a_half_megabytes(path: Path) -> None:
    tenth_of_a_day = 2340
    async with opened(path):
        pass
    empty = (await asyncio.to_thread(path.stat)).st_size
    async with opened(path) as journal:
        await journal.begin(header())
        for n in range(tenth_of_a_day):
            journal.record(entry(10 * n, events=(step_begun(n),) if n % 100 == 0 else ()))
    assert (await asyncio.to_thread(path.stat)).st_size - empty <= 350_000
