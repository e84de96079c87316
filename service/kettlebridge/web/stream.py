"""The event stream: the parts of a kettle's page that changed, again and again, until the service ends.

Each client has one latest-value slot. Who reads slowly misses pictures, never the last; nothing piles up.
"""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator
from contextlib import suppress

from kettlebridge.model.ids import KettleId
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.web.pictures import Pictures, marks_of
from kettlebridge.web.surroundings import Surroundings
from kettlebridge.web.telling import Teller

PAUSE_S = 0.4
"""Real seconds between two pictures for one client."""

BEAT_S = 2.0
"""Real seconds of silence after which the stream says that it is alive."""

STREAMS = 256
"""Open at once; further ones are turned away, and their pages ask again."""


class Streams:
    """Serves them all, and ends them all."""

    def __init__(self, around: Surroundings, pictures: Pictures, teller: Teller, stop: asyncio.Event) -> None:
        self._around = around
        self._pictures = pictures
        self._teller = teller
        self._stop = stop
        self.open = 0

    async def of(self, kettle: KettleId, held: str = "") -> AsyncIterator[bytes]:
        """Server-sent events; the first has every part but those that the page says it holds.

        Each carries as its id the marks of what stands on the page then, which a browser says when it comes back.
        """
        self.open += 1
        snapshots = aiter(self._around.snapshots.stream(kettle))
        shown = marks_of(held)
        loop = asyncio.get_running_loop()
        coming: asyncio.Task[Snapshot] | None = None
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
                picture = self._pictures.of(snapshot)
                changed = {name: html for name, html in picture.parts.items() if shown.get(name) != picture.marks[name]}
                shown = dict(picture.marks)
                self._teller.freshness.shown(kettle, snapshot.n, loop.time())
                message = {"n": snapshot.n, "at": picture.view.at, "batch": snapshot.batch, "parts": changed}
                yield f"id: {picture.held}\ndata: {json.dumps(message, separators=(',', ':'))}\n\n".encode()
                with suppress(TimeoutError):
                    await asyncio.wait_for(self._stop.wait(), PAUSE_S)
        finally:
            self.open -= 1
            for task in (coming, stopping):
                if task is not None:
                    task.cancel()


async def _next(snapshots: AsyncIterator[Snapshot]) -> Snapshot:
    return await anext(snapshots)
