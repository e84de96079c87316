"""A batch found unfinished comes back as the fold of its recorded inputs; its next tick says how long it was away.

Batch time goes on where it stopped, so that no duration of the batch contains the outage.
"""

from __future__ import annotations

import asyncio
from dataclasses import dataclass
from typing import Generic

from kettlebridge.model.errors import JournalError
from kettlebridge.model.ids import BatchId, KettleId
from kettlebridge.model.inputs import Resumed
from kettlebridge.ports import BatchHeader, Records
from kettlebridge.runtime.fold import Core, S, fold

TICKS_AT_A_TIME = 50
"""Other kettles' ticks are let in between: a whole day folded in one go would cost them their leases."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing(Generic[S]):
    """Where a batch stands between two ticks. `ended`: its record is closed, and nothing more is written to it."""

    header: BatchHeader
    state: S
    ended: bool = False

    def resumed(self, at_utc_s: float) -> Resumed | None:
        """What its next tick is told at wall time `at_utc_s`; None for a batch that never had a tick."""
        if self.state.n == 0:
            return None
        return Resumed(away_s=max(0.0, at_utc_s - self.state.at_utc_s))


class IncompleteRecordError(JournalError):
    """Ticks of `batch` were never written, from tick `n` on: what it came to cannot be known any more."""

    def __init__(self, batch: BatchId, n: int) -> None:
        super().__init__(f"the record of batch {batch} is incomplete from tick {n}")
        self.batch = batch


async def recover(core: Core[S], records: Records, kettle: KettleId) -> Standing[S] | None:
    """The unfinished batch of `kettle`, None where there is none.

    Raises IncompleteRecordError for one that lost ticks, and JournalError for what cannot be read.
    """
    batch = records.unfinished(kettle)
    if batch is None:
        return None
    for summary in records.batches():
        if summary.batch == batch and summary.incomplete_from is not None:
            raise IncompleteRecordError(batch, summary.incomplete_from)
    header = records.header(batch)
    state = core.initial(header.plan)
    for n, ticked in fold(core, header.plan, records.ticks(batch)):
        state = ticked.state
        if n % TICKS_AT_A_TIME == 0:
            await asyncio.sleep(0)
    return Standing(header=header, state=state)
