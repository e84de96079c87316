"""A journal on a disk that fills up and is freed again: `python -m tests.journal.small_disk FOLDER tmpfs|limit`.

`tmpfs`: FOLDER is a small file system of its own, and a file on it makes it full. `limit`: the kernel refuses to let
files grow (RLIMIT_FSIZE), for machines on which nothing may be mounted. Prints one JSON object.
"""

from __future__ import annotations

import asyncio
import errno
import json
import resource
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from kettlebridge.journal.queries import SqliteRecords
from kettlebridge.journal.store import SqliteJournal, open_journal
from kettlebridge.journal.work import Pace
from tests.journal.builders import entry, header
from tests.journal.gate import ThreadBoundGate

BATCH = header().batch
PACE = Pace(commit_every_s=0.02, back_off_first_s=0.01, back_off_longest_s=0.02)
MOST_TICKS = 20_000


@contextmanager
def full_tmpfs(folder: Path) -> Iterator[None]:
    ballast = folder / "ballast"
    with ballast.open("wb", buffering=0) as file:
        try:
            while True:
                file.write(bytes(4096))
        except OSError as error:
            if error.errno != errno.ENOSPC:
                raise
    try:
        yield
    finally:
        ballast.unlink()


@contextmanager
def full_by_limit(folder: Path) -> Iterator[None]:
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (max(path.stat().st_size for path in folder.iterdir()), hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


FULL = {"tmpfs": full_tmpfs, "limit": full_by_limit}


async def live(folder: Path, how: str) -> dict[str, object]:
    path = folder / "journal.db"
    told: list[int] = []
    async with open_journal(path, gate=ThreadBoundGate(), program="0.1.0", pace=PACE) as journal:
        await journal.begin(header())
        n = 0
        with FULL[how](folder):
            while journal.health().failing_why is None and n < MOST_TICKS:
                n = await _tick(journal, n, told)
            why = journal.health().failing_why
            for _ in range(20):
                n = await _tick(journal, n, told)
        async with asyncio.timeout(10.0):
            while journal.health().unwritten:  # noqa: ASYNC110  # the journal's own account wakes nobody
                await asyncio.sleep(0.01)
        n = await _tick(journal, n, told)
    records = SqliteRecords(path, program="0.1.0")
    ticks = [number for number, _ in records.ticks(BATCH)]
    return {"how": how, "why": why, "told": told, "recorded": ticks == list(range(n)), "ticks": n}


async def _tick(journal: SqliteJournal, n: int, told: list[int]) -> int:
    journal.record(entry(n, urgent=True))
    if await journal.settled(BATCH, n):
        told.append(n)
    return n + 1


if __name__ == "__main__":
    sys.stdout.write(json.dumps(asyncio.run(live(Path(sys.argv[1]), sys.argv[2]))))
