"""A Clock that stands still until a test moves it."""

from __future__ import annotations

import asyncio
from collections import defaultdict


class CountingGate:
    """What is under way; never below zero."""

    def __init__(self) -> None:
        self.count = 0

    def shut(self, count: int = 1) -> None:
        """More."""
        self.count += count

    def open(self, count: int = 1) -> None:
        """Fewer."""
        self.count -= count


class ManualClock:
    """Starts at 1000 s."""

    def __init__(self) -> None:
        self.gates: defaultdict[str, CountingGate] = defaultdict(CountingGate)
        self._now_s = 1000.0
        self._sleepers: list[tuple[float, asyncio.Future[None]]] = []
        self._asleep = asyncio.Event()

    def now_s(self) -> float:
        """The time a test chose."""
        return self._now_s

    def at_utc_s(self) -> float:
        """The same."""
        return self._now_s

    async def sleep_until(self, when_s: float) -> None:
        """Waits for a test to move time there."""
        if when_s <= self._now_s:
            return
        woken: asyncio.Future[None] = asyncio.get_running_loop().create_future()
        self._sleepers.append((when_s, woken))
        self._asleep.set()
        await woken

    def gate(self, name: str) -> CountingGate:
        """Counts, and holds nobody up."""
        return self.gates[name]

    def advance(self, by_s: float) -> None:
        """Moves time and wakes whoever is due."""
        self._now_s += by_s
        for when_s, woken in self._sleepers:
            if when_s <= self._now_s and not woken.done():
                woken.set_result(None)
        self._sleepers = [(when_s, woken) for when_s, woken in self._sleepers if not woken.done()]

    async def step(self) -> None:
        """Waits until somebody sleeps, then moves to the earliest deadline."""
        while True:
            self._sleepers = [(when_s, woken) for when_s, woken in self._sleepers if not woken.done()]
            if self._sleepers:
                break
            self._asleep.clear()
            await self._asleep.wait()
        self.advance(min(when_s for when_s, _ in self._sleepers) - self._now_s)
