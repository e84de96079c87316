"""Whole virtual days put on record, the second of them with amendments."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterator
from pathlib import Path

from kettlebridge.app import JOURNAL_NAME
from kettlebridge.core.sequencer import current_step
from kettlebridge.journal.store import open_journal
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import Command
from kettlebridge.model.ids import BatchId
from kettlebridge.model.plan import AnyStep, Plan
from kettlebridge.ports import BatchHeader, TickEntry
from kettlebridge.runtime.clock import OpenGate
from kettlebridge.simulated.virtual_day import STARTED_UTC_S, Second, VirtualDay

BUNCH = 2000
Told = Callable[[AnyStep, Second], Command | None]
"""What somebody says besides the simulated brewer, in view of the step in hand."""


def quiet(step: AnyStep, second: Second) -> None:
    """Nobody says anything."""


def lived(day: VirtualDay, batch: BatchId, told: Told) -> Iterator[TickEntry]:
    for n, second in enumerate(day.seconds()):
        yield TickEntry(batch=batch, n=n, inputs=second.inputs, events=second.events, urgent=n % BUNCH == 0)
        step = current_step(day.plan, second.state.stage)
        said = None if step is None else told(step, second)
        if said is not None:
            day.tell(said)


async def _record(folder: Path, plan: Plan, batch: BatchId, entries: Iterator[TickEntry], ends: BatchState) -> None:
    header = BatchHeader(
        batch=batch, kettle=plan.kettle.name, plan=plan, started_utc_s=STARTED_UTC_S, program="0", python="3"
    )
    async with open_journal(folder / JOURNAL_NAME, gate=OpenGate(), program="0") as journal:
        await journal.begin(header)
        for entry in entries:
            journal.record(entry)
            if entry.urgent:  # more would be dropped while so many wait
                await journal.settled(batch, entry.n)
        await journal.end(batch, ends)


def record(
    folder: Path,
    plan: Plan,
    batch: BatchId,
    *,
    seed: int,
    told: Told = quiet,
    ends: BatchState = BatchState.COMPLETE,
) -> None:
    day = VirtualDay(plan, seed=seed)
    asyncio.run(_record(folder, plan, batch, lived(day, batch, told), ends))
    assert day.state.batch is ends
