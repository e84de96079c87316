"""What probes tell from a fermenter, into the record of the beer that is in it, whatever the kettle does meanwhile.

Told every few seconds or every few minutes, it is kept once an hour, and in between where it changed. Nothing here is
vital: a broker that is away, or a disk that refuses, costs readings and nothing else.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import AsyncGenerator, Callable
from contextlib import aclosing
from typing import Never

from kettlebridge.brewing.measuring import HYDROMETER_SG
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.errors import JournalError, LinkError
from kettlebridge.model.event import EventCode
from kettlebridge.model.fermentation import Heard, ProbeReading
from kettlebridge.model.ids import BatchId, KettleId
from kettlebridge.model.plan import AskKind, AskStep, Plan
from kettlebridge.ports import Clock, FermentationRecords, Records

log = logging.getLogger(__name__)

EVERY_S = 3600.0
SOONEST_S = 300.0
CHANGED_C = 0.5
CHANGED_SG = 0.001
"""What is kept before its hour: as much as a hydrometer can be read to, and as little as a fermenter need not mind."""
AGAIN_S = 30.0
LIKELY_C = (-5.0, 60.0)
"""Of a fermenting beer; anything else is no reading, like a gravity that is on no hydrometer."""

Keep = Callable[[BatchId, ProbeReading], None]
Listen = Callable[[], AsyncGenerator[Heard, None]]


def fermenting(records: FermentationRecords, kettle: KettleId) -> BatchId | None:
    """The batch that a kettle's fermenter holds: the last one whose yeast was pitched, until it is packaged.

    Raises JournalError.
    """
    for summary in records.batches():
        if summary.kettle == kettle and _pitched(records, summary.batch, summary.ended):
            return None if records.packaged_utc_s(summary.batch) is not None else summary.batch
    return None


def _pitched(records: Records, batch: BatchId, ended: BatchState | None) -> bool:
    pitches = _pitch_index(records.header(batch).plan)
    if pitches is None:
        return ended is BatchState.COMPLETE
    return any(
        event.code is EventCode.STEP_DONE and event.get("index") == pitches and not event.get("skipped")
        for _, event in records.events(batch)
    )


def _pitch_index(plan: Plan) -> int | None:
    steps = enumerate(plan.profile.steps)
    return next((n for n, step in steps if isinstance(step, AskStep) and step.what is AskKind.PITCH), None)


class FermenterRecord:
    """Keeps what is worth keeping; asked for each thing that is heard."""

    def __init__(self, kettle: KettleId, records: FermentationRecords, keep: Keep, clock: Clock) -> None:
        self._kettle = kettle
        self._records = records
        self._keep = keep
        self._clock = clock
        self._last: tuple[BatchId, ProbeReading, float] | None = None
        self._looked_s: float | None = None

    async def take(self, heard: Heard) -> bool:
        """Whether it was kept. Raises JournalError: it could not be, and is not tried again before five minutes."""
        if not _likely(heard) or not self._due():
            return False
        self._looked_s = self._clock.now_s()
        batch = await asyncio.to_thread(fermenting, self._records, self._kettle)
        if batch is None or (self._last is not None and self._last[0] == batch and not self._worth(heard)):
            return False
        reading = ProbeReading(at_utc_s=self._clock.at_utc_s(), at_c=heard.at_c, gravity_sg=heard.gravity_sg)
        await asyncio.to_thread(self._keep, batch, reading)
        self._last = (batch, reading, self._clock.now_s())
        return True

    def _due(self) -> bool:
        """Never twice in five minutes; whether another beer is in the fermenter is looked up as seldom."""
        return self._looked_s is None or self._clock.now_s() - self._looked_s >= SOONEST_S

    def _worth(self, heard: Heard) -> bool:
        """An hour later, or not what it was."""
        if self._last is None:
            return True
        _, kept, kept_s = self._last
        if self._clock.now_s() - kept_s >= EVERY_S or abs(heard.at_c - kept.at_c) >= CHANGED_C:
            return True
        if heard.gravity_sg is None or kept.gravity_sg is None:
            return (heard.gravity_sg is None) != (kept.gravity_sg is None)
        return abs(heard.gravity_sg - kept.gravity_sg) >= CHANGED_SG


def _likely(heard: Heard) -> bool:
    likely_sg = heard.gravity_sg is None or HYDROMETER_SG[0] <= heard.gravity_sg <= HYDROMETER_SG[1]
    return LIKELY_C[0] <= heard.at_c <= LIKELY_C[1] and likely_sg


async def keep_listening(name: str, listen: Listen, record: FermenterRecord, clock: Clock) -> Never:
    """Listens for ever; what goes wrong is told once, until it is well again."""
    trouble = ""
    while True:
        try:
            async with aclosing(listen()) as told:
                async for heard in told:
                    kept = await record.take(heard)
                    if kept and trouble:
                        log.info("%s: kept again", name)
                        trouble = ""
        except (LinkError, JournalError) as error:
            if str(error) != trouble:
                trouble = str(error)
                log.warning("%s: %s", name, error)
        await clock.sleep_until(clock.now_s() + AGAIN_S)
