"""A Clock that stands still until a test moves it."""

from __future__ import annotations

import asyncio
from collections import defaultdict

from tests.drivers.fake_board import GUARD_S


class CountingGate:
    """What is under way; never below zero."""

    def __init__(self) -> None:
        self.count = 0
        self._opened = asyncio.Event()

    def shut(self, count: int = 1) -> None:
        """More."""
        self.count += count

    def open(self, count: int = 1) -> None:
        """Fewer."""
        self.count -= count
        if count:
            self._opened.set()

    async def until_opened(self) -> None:
        """Returns once something has been done."""
        await self._opened.wait()


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

    def synchronised(self) -> bool:
        return True

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

    async def run_out(self, task: asyncio.Task[None]) -> float:
        """Moves from deadline to deadline until `task` ends; gives the time that took."""
        begun_s = self._now_s
        while not task.done():
            step = asyncio.create_task(self.step())
            await asyncio.wait({step, task}, timeout=GUARD_S, return_when=asyncio.FIRST_COMPLETED)
            step.cancel()
            await asyncio.wait({step})
        return self._now_s - begun_s

    async def step(self) -> None:
        """Waits until somebody sleeps, then moves to the earliest deadline."""
        while True:
            self._sleepers = [(when_s, woken) for when_s, woken in self._sleepers if not woken.done()]
            if self._sleepers:
                break
            self._asleep.clear()
            await self._asleep.wait()
        self.advance(min(when_s for when_s, _ in self._sleepers) - self._now_s)
