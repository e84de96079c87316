"""An Inbox that keeps everything in order for a test to take out."""

from __future__ import annotations

import asyncio

from kettlebridge.model.errors import LinkReason
from kettlebridge.model.sample import BoardReport, Sample
from tests.drivers.fake_board import GUARD_S

News = tuple[tuple[Sample, ...], BoardReport | None]


class FakeInbox:
    """`links` counts sessions."""

    def __init__(self) -> None:
        self.links = 0
        self._linked = asyncio.Event()
        self._news: asyncio.Queue[News] = asyncio.Queue()

    def linked(self) -> None:
        """A session."""
        self.links += 1
        self._linked.set()

    def link_lost(self, reason: LinkReason, detail: str) -> None:
        """The keeper's affair, never the bridge's own."""
        raise AssertionError(reason, detail)

    def hear(self, samples: tuple[Sample, ...], report: BoardReport | None) -> None:
        """Kept."""
        self._news.put_nowait((samples, report))

    async def until_linked(self) -> None:
        """Returns in a session."""
        async with asyncio.timeout(GUARD_S):
            await self._linked.wait()

    async def news(self) -> tuple[tuple[Sample, ...], BoardReport]:
        """The next report."""
        async with asyncio.timeout(GUARD_S):
            samples, report = await self._news.get()
        assert report is not None
        return samples, report

    def has_news(self) -> bool:
        """Whether there is more than was taken."""
        return not self._news.empty()
