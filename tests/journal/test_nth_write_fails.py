"""The n-th write of a journal's life fails, for every n: nobody waits, nothing is lost, and it is told.

A sync that fails takes what was written before it along for ever, as on Linux (https://lwn.net/Articles/752063/).
"""

from __future__ import annotations

import asyncio
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import apsw
import pytest

from kettlebridge.journal.queries import SqliteRecords
from kettlebridge.journal.store import SqliteJournal, open_journal
from kettlebridge.journal.work import Pace
from kettlebridge.model.errors import JournalError
from tests.journal.builders import entry, header
from tests.journal.gate import ThreadBoundGate
from tests.journal.recording_vfs import Act, Disk, Recorder, Sync, Told, Write, beneath, laid_down

BATCH = header().batch
TICKS = 6
QUICK = Pace(commit_every_s=0.01, back_off_first_s=0.001, back_off_longest_s=0.002)

pytestmark = [
    pytest.mark.slow,
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),  # apsw's, of what SQLite ignores
]


@dataclass(slots=True)
class Nth:
    """Fails the acts of a kind from the `n`-th on, `times` in a row."""

    kind: type[Write | Sync]
    error: Callable[[], Exception]
    n: int
    times: int
    seen: int = field(default=0, init=False)

    def __call__(self, act: Act) -> Exception | None:
        if not isinstance(act, self.kind):
            return None
        self.seen += 1
        return self.error() if self.n <= self.seen < self.n + self.times else None


KINDS: dict[str, tuple[type[Write | Sync], Callable[[], Exception]]] = {
    "disk full": (Write, apsw.FullError),
    "write error": (Write, apsw.IOError),
    "sync error": (Sync, apsw.IOError),
}


@pytest.fixture
def recorder() -> Iterator[Recorder]:
    one = Recorder("failing for promise 33", checkpoint_pages=4)
    yield one
    one.unregister()


async def _life(path: Path, recorder: Recorder) -> list[int]:
    """Some ticks, each urgent. The numbers that were acknowledged."""
    told = []
    async with await _opened(path) as journal:
        await _begun(journal)
        for n in range(TICKS):
            journal.record(entry(n, urgent=True))
            if await journal.settled(BATCH, n):
                told.append(n)
                recorder.acts.append(Told(n=n))
            else:
                await _written(journal)
        await _written(journal)
    return told


async def _written(journal: SqliteJournal) -> None:
    async with asyncio.timeout(10.0):
        while journal.health().unwritten:  # noqa: ASYNC110  # the journal's own account wakes nobody
            await asyncio.sleep(0.001)


async def _opened(path: Path) -> SqliteJournal:
    """Tries again, as a service manager does: a journal that cannot be opened is refused, and left as it was."""
    for _ in range(4):
        try:
            return open_journal(path, gate=ThreadBoundGate(), program="0.1.0", pace=QUICK)
        except JournalError:
            continue
    return open_journal(path, gate=ThreadBoundGate(), program="0.1.0", pace=QUICK)


async def _begun(journal: SqliteJournal) -> None:
    """Tries again, as a keeper does."""
    for _ in range(8):
        try:
            await journal.begin(header())
        except JournalError:
            continue
        return
    raise AssertionError("it never began")


@pytest.mark.parametrize("times", [1, 3])
@pytest.mark.parametrize("kind", KINDS)
def test_whichever_fails_every_tick_is_written_in_the_end(
    recorder: Recorder, tmp_path: Path, kind: str, times: int, caplog: pytest.LogCaptureFixture
) -> None:
    acts, error = KINDS[kind]
    failures, unsettled, n = 0, 0, 0
    while True:
        n += 1
        folder = tmp_path / str(n)
        folder.mkdir()
        path = folder / "journal.db"
        recorder.acts.clear()
        recorder.fails = nth = Nth(acts, error, n, times)
        with beneath(recorder):
            told = asyncio.run(_life(path, recorder))
        assert [tick for tick, _ in SqliteRecords(path, program="0.1.0").ticks(BATCH)] == list(range(TICKS))
        _see_that_a_power_cut_takes_nothing(recorder, folder / "after", told)
        failures += nth.seen >= n
        unsettled += len(told) < TICKS
        shutil.rmtree(folder)
        if nth.seen < n:
            break
    assert failures > 15
    assert unsettled > 3, "no failure ever showed"
    told_of = [record for record in caplog.records if "cannot be written: the disk" in record.getMessage()]
    assert len(told_of) >= unsettled


def _see_that_a_power_cut_takes_nothing(recorder: Recorder, folder: Path, told: list[int]) -> None:
    """Cut right behind the last acknowledgement, with nothing but what was synced."""
    last = max(index for index, act in enumerate(recorder.acts) if isinstance(act, Told))
    disk = Disk()
    for act in recorder.acts[: last + 1]:
        disk.do(act)
    image = disk.image([])
    laid_down(image, folder)
    ticks = {n for n, _ in SqliteRecords(folder / "journal.db", program="0.1.0").ticks(BATCH)}
    assert set(told) <= ticks
