"""A gate that counts, and insists on the thread of whoever made it."""

from __future__ import annotations

import asyncio
import threading


class ThreadBoundGate:
    """`most` is the largest count there was; `total` how often it was shut."""

    def __init__(self) -> None:
        self.count = 0
        self.most = 0
        self.total = 0
        self._thread = threading.get_ident()
        self._open = asyncio.Event()
        self._open.set()

    def shut(self, count: int = 1) -> None:
        assert threading.get_ident() == self._thread
        self.count += count
        self._open.clear()
        self.total += count
        self.most = max(self.most, self.count)

    def open(self, count: int = 1) -> None:
        assert threading.get_ident() == self._thread
        assert count <= self.count
        self.count -= count
        if self.count == 0:
            self._open.set()

    async def until_open(self) -> None:
        """Returns when nothing is under way."""
        await self._open.wait()
