"""A process that records until it is killed: `python -m tests.journal.keep_writing PATH`.

Writes the number of a tick once it is told that the tick is on disk.
"""

from __future__ import annotations

import asyncio
import random
import sys
from pathlib import Path

from kettlebridge.journal.store import open_journal
from kettlebridge.journal.work import Pace
from kettlebridge.model.errors import JournalError
from tests.journal.builders import PLAN, entry, header, step_begun
from tests.journal.gate import ThreadBoundGate

SEED = 5


async def keep_writing(path: Path) -> None:
    """Goes on where the record stands; an urgent row now and then, and a burst of others between."""
    chance = random.Random(SEED)  # noqa: S311  # no secrets here
    async with open_journal(path, gate=ThreadBoundGate(), program="0.1.0", pace=Pace(commit_every_s=0.003)) as journal:
        batch = journal.records.unfinished(PLAN.kettle.name)
        if batch is None:
            await journal.begin(header())
            batch = header().batch
        n = sum(1 for _ in journal.records.ticks(batch))
        while True:
            for _ in range(chance.randrange(6)):
                journal.record(entry(n, events=(step_begun(n),) if n % 3 == 0 else ()))
                n += 1
            journal.record(entry(n, urgent=chance.random() < 0.5, events=(step_begun(n),)))
            if await journal.settled(batch, n):
                sys.stdout.write(f"{n}\n")
                sys.stdout.flush()
            n += 1


if __name__ == "__main__":
    try:
        asyncio.run(keep_writing(Path(sys.argv[1])))
    except JournalError as error:
        sys.exit(str(error))
