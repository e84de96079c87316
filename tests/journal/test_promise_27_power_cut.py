"""Promise 27: whatever a power cut leaves of the journal's files, it opens, is whole, and holds what was acknowledged.

After every single write, sync and deletion of a journal's life: made, filled, checkpointed over and over, closed.
"""

from __future__ import annotations

import asyncio
import hashlib
import itertools
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from kettlebridge.journal.opening import open_to_write
from kettlebridge.journal.queries import SqliteRecords
from kettlebridge.journal.store import open_journal
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.errors import JournalError
from kettlebridge.ports import BatchSummary
from tests.journal.builders import entry, header, step_begun
from tests.journal.gate import ThreadBoundGate
from tests.journal.recording_vfs import Delete, Image, Recorder, Sync, Told, Write, beneath, images, laid_down

BATCHES = ("copper-1", "copper-2")
TICKS = 15

pytestmark = pytest.mark.slow


async def _life(path: Path, recorder: Recorder) -> None:
    """Two batches, one after the other, each ended; `recorder` notes what was acknowledged, and when."""
    async with open_journal(path, gate=ThreadBoundGate(), program="0.1.0") as journal:
        for index, batch in enumerate(BATCHES):
            await journal.begin(header(batch))
            for n in range(TICKS):
                journal.record(entry(n, batch=batch, urgent=n % 3 == 2, events=(step_begun(n),)))
                if n % 3 == 2:
                    assert await journal.settled(header(batch).batch, n)
                    recorder.acts.append(Told(n=index * TICKS + n))
            await journal.end(header(batch).batch, BatchState.COMPLETE)


@pytest.fixture(scope="module")
def recorder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Recorder]:
    """One life, recorded."""
    path = tmp_path_factory.mktemp("life") / "journal.db"
    one = Recorder("recording for promise 27", checkpoint_pages=6)
    with beneath(one):
        asyncio.run(_life(path, one))
    assert SqliteRecords(path, program="0.1.0").batches()[0].ended is BatchState.COMPLETE
    yield one
    one.unregister()


def _recorded(path: Path) -> list[int]:
    """The numbers of all ticks, over both batches; each is held against what was recorded as its number."""
    records = SqliteRecords(path, program="0.1.0")
    known: tuple[BatchSummary, ...] = records.batches()
    numbers = []
    for index, batch in enumerate(BATCHES):
        if header(batch).batch not in {summary.batch for summary in known}:
            continue
        ticks = list(records.ticks(header(batch).batch))
        assert ticks == [(n, entry(n).inputs) for n in range(len(ticks))]
        events = list(records.events(header(batch).batch))
        assert events == [(n, step_begun(n)) for n in range(len(ticks))]
        numbers += [index * TICKS + n for n, _ in ticks]
    return numbers


def test_the_life_has_every_kind_of_write(recorder: Recorder) -> None:
    """Into the log and, at checkpoints, into the file itself; with syncs of both, and the deletion of the log."""
    kinds = {(type(act), act.file) for act in recorder.acts if not isinstance(act, Told)}
    assert {(Write, "journal.db"), (Write, "journal.db-wal"), (Sync, "journal.db"), (Sync, "journal.db-wal")} <= kinds
    assert (Delete, "journal.db-wal") in kinds
    checkpoints = [act for act in recorder.acts if act == Sync(file="journal.db")]
    assert len(checkpoints) > 5


def test_after_a_power_cut_at_any_write_the_record_is_whole_and_lacks_nothing_acknowledged(
    recorder: Recorder, tmp_path: Path
) -> None:
    seen: set[bytes] = set()
    lengths: set[int] = set()
    for number, (done, image) in enumerate(images(recorder.acts, seed=27)):
        told = max((act.n for act in recorder.acts[:done] if isinstance(act, Told)), default=-1)
        if _known(image, told, seen):
            continue
        folder = tmp_path / str(number)
        laid_down(image, folder)
        path = folder / "journal.db"
        open_to_write(path, "0.1.0").close()
        numbers = _recorded(path)
        assert numbers == list(range(len(numbers))), f"after {done} acts"
        assert told < len(numbers), f"after {done} acts: {told} was acknowledged"
        lengths.add(len(numbers))
        shutil.rmtree(folder)
    assert len(seen) > 200
    assert {0, 2 * TICKS} <= lengths


def test_a_disk_that_lies_about_its_syncs_is_found_out_by_this_very_test(recorder: Recorder, tmp_path: Path) -> None:
    """The check of the check: without any sync, acknowledged ticks must be seen to get lost."""
    lying = [act for act in recorder.acts if not isinstance(act, Sync)]
    lost = 0
    for number, (done, image) in enumerate(itertools.islice(images(lying, seed=27), 0, None, 12)):
        told = max((act.n for act in lying[:done] if isinstance(act, Told)), default=-1)
        folder = tmp_path / str(number)
        laid_down(image, folder)
        try:
            open_to_write(folder / "journal.db", "0.1.0").close()
            lost += len(_recorded(folder / "journal.db")) <= told
        except (JournalError, AssertionError):  # refused, or not whole
            lost += 1
        shutil.rmtree(folder)
    assert lost > 5


def _known(image: Image, told: int, seen: set[bytes]) -> bool:
    """Whether the same image, with as much acknowledged, was looked at before."""
    digest = hashlib.sha256(repr((told, sorted(image.items()))).encode()).digest()
    if digest in seen:
        return True
    seen.add(digest)
    return False
