"""Power cut or kill -9 at any moment: what was acknowledged is there, and nothing is there by halves."""

from __future__ import annotations

import asyncio
import os
import random
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from kettlebridge.journal.opening import open_to_write
from kettlebridge.journal.queries import SqliteRecords
from kettlebridge.journal.store import open_journal
from kettlebridge.model.errors import JournalError
from tests.journal.builders import entry, header, step_begun
from tests.journal.gate import ThreadBoundGate

ROOT = Path(__file__).parents[2]
BATCH = header().batch
KILLS = 15


@contextmanager
def writing(path: Path) -> Iterator[subprocess.Popen[str]]:
    """A process that records into `path`; killed at the end, if it still lives."""
    child = subprocess.Popen(
        [sys.executable, "-m", "tests.journal.keep_writing", str(path)],
        cwd=ROOT,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
        stdout=subprocess.PIPE,
        text=True,
    )
    with child:
        try:
            yield child
        finally:
            child.kill()


def _recorded(path: Path) -> list[int]:
    """The numbers of the ticks, each held against what was recorded as its number, with its events."""
    records = SqliteRecords(path, program="0.1.0")
    ticks = list(records.ticks(BATCH))
    assert ticks == [(n, entry(n).inputs) for n, _ in ticks]
    with_events = {n for n, event in records.events(BATCH) if event == step_begun(n)}
    assert {n for n, _ in ticks if n % 3 == 0} <= with_events
    assert with_events <= {n for n, _ in ticks}
    return [n for n, _ in ticks]


@pytest.mark.slow
@pytest.mark.process
def test_kill_at_any_moment_loses_no_acknowledged_tick(path: Path) -> None:
    chance = random.Random(27)  # noqa: S311  # no secrets here
    acknowledged = -1
    for _ in range(KILLS):
        with writing(path) as child:
            assert child.stdout is not None
            for _ in range(chance.randrange(1, 60)):  # where in its work that is, nobody chose
                acknowledged = int(child.stdout.readline())
            child.send_signal(signal.SIGKILL)
            for line in child.stdout.read().splitlines():  # told before it died
                acknowledged = int(line)
        assert child.returncode == -signal.SIGKILL
        open_to_write(path, "0.1.0").close()  # opens, and is found sound
        numbers = _recorded(path)
        assert numbers == list(range(len(numbers)))
        assert acknowledged in numbers
    (summary,) = SqliteRecords(path, program="0.1.0").batches()
    assert summary.incomplete_from is None
    assert summary.ended is None


@pytest.mark.process
def test_two_processes_cannot_write_one_journal(path: Path) -> None:
    with writing(path) as first:
        assert first.stdout is not None
        first.stdout.readline()
        with pytest.raises(JournalError, match="another running service"):
            open_to_write(path, "0.1.0")
        assert SqliteRecords(path, program="0.1.0").batches()  # to read is free
        last = int(first.stdout.readline())
    assert last in _recorded(path)
    open_to_write(path, "0.1.0").close()  # the lock died with its process


async def _record_and_keep_images(path: Path) -> list[tuple[int, int]]:
    """Records 25 ticks; for each the size of the write-ahead log when it was acknowledged. Leaves copies beside."""
    sizes = []
    async with open_journal(path, gate=ThreadBoundGate(), program="0.1.0") as journal:
        await journal.begin(header())
        for n in range(25):
            journal.record(entry(n, urgent=True, events=(step_begun(n),)))
            assert await journal.settled(BATCH, n)
            sizes.append((n, path.with_name("journal.db-wal").stat().st_size))
        shutil.copy(path, path.with_name("image.db"))
        shutil.copy(path.with_name("journal.db-wal"), path.with_name("image.db-wal"))
    return sizes


def test_a_power_cut_after_any_write_leaves_a_whole_record_up_to_there(path: Path, tmp_path: Path) -> None:
    """Every image that a disk which keeps order can show: the log cut at each frame, and in the middle of each.

    Frames are 24 bytes and a page, after a header of 32 bytes (https://sqlite.org/fileformat2.html, 4.1).
    """
    sizes = asyncio.run(_record_and_keep_images(path))
    base, log = (tmp_path / "image.db").read_bytes(), (tmp_path / "image.db-wal").read_bytes()
    frame = 24 + 4096
    assert (len(log) - 32) % frame == 0
    cuts = sorted({at for start in range(32, len(log) + 1, frame) for at in (start, start + frame // 2)})
    crashed = tmp_path / "crashed.db"
    seen = set()
    for cut in (cut for cut in cuts if cut <= len(log)):
        crashed.write_bytes(base)
        (tmp_path / "crashed.db-wal").write_bytes(log[:cut])
        open_to_write(crashed, "0.1.0").close()
        try:
            numbers = _recorded(crashed)
        except JournalError as error:
            assert "no batch" in str(error)  # noqa: PT017  # cut before the batch was begun
            numbers = []
        assert numbers == list(range(len(numbers)))
        assert set(numbers) >= {n for n, size in sizes if size <= cut}
        seen.add(len(numbers))
    assert seen == set(range(26))
