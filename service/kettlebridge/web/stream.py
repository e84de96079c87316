"""The event stream: the parts of a kettle's page that changed, again and again, until the service ends.

Each client has one latest-value slot. Who reads slowly misses pictures, never the last; nothing piles up.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import suppress
from itertools import count

from kettlebridge.model.ids import BatchId, KettleId
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.web.pictures import Pictures
from kettlebridge.web.surroundings import Surroundings
from kettlebridge.web.telling import Teller

PAUSE_S = 0.4
"""Real seconds between two pictures for one client."""

BEAT_S = 2.0
"""Real seconds of silence after which the stream says that it is alive."""

STREAMS = 256
"""Open at once; further ones are turned away, and their pages ask again."""

SPREAD_S = PAUSE_S / STREAMS
"""Real seconds by which each further stream hears later: a crowd told all at once would keep the next tick waiting."""


class Streams:
    """Serves them all, and ends them all."""

    def __init__(self, around: Surroundings, pictures: Pictures, teller: Teller, stop: asyncio.Event) -> None:
        self._around = around
        self._pictures = pictures
        self._teller = teller
        self._stop = stop
        self._places: set[int] = set()

    @property
    def open(self) -> int:
        """How many there are."""
        return len(self._places)

    async def of(self, kettle: KettleId, held: str = "") -> AsyncIterator[bytes]:
        """Server-sent events; the first has every part but those that the page says it holds.

        Each carries as its id the marks of what stands on the page then, which a browser says when it comes back.
        """
        place = next(number for number in count() if number not in self._places)
        self._places.add(place)
        snapshots = aiter(self._around.snapshots.stream(kettle))
        loop = asyncio.get_running_loop()
        coming: asyncio.Task[Snapshot] | None = None
        told: tuple[BatchId, int] | None = None
        stopping = asyncio.create_task(self._stop.wait(), name="page: a stream's stop")
        try:
            yield b"retry: 2000\n\n"
            while not self._stop.is_set():
                if coming is None:
                    coming = asyncio.create_task(_next(snapshots), name="page: a stream's next")
                await asyncio.wait({coming, stopping}, timeout=BEAT_S, return_when=asyncio.FIRST_COMPLETED)
                if not coming.done():
                    yield b"event: beat\ndata: {}\n\n"
                    continue
                snapshot, coming = coming.result(), None
                await self._pause(place * SPREAD_S)
                snapshot = self._around.snapshots.latest(kettle) or snapshot
                if (snapshot.batch, snapshot.n) == told:
                    continue
                told = (snapshot.batch, snapshot.n)
                picture = self._pictures.of(snapshot)
                news, held = picture.news(held), picture.held
                self._teller.freshness.shown(kettle, snapshot.n, loop.time())
                yield news
                await self._pause(PAUSE_S)
        finally:
            self._places.discard(place)
            for task in (coming, stopping):
                if task is not None:
                    task.cancel()

    async def _pause(self, for_s: float) -> None:
        """Sleeps, unless the service ends."""
        if for_s > 0.0:
            with suppress(TimeoutError):
                await asyncio.wait_for(self._stop.wait(), for_s)


async def _next(snapshots: AsyncIterator[Snapshot]) -> Snapshot:
    return await anext(snapshots)
