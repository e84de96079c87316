"""A bad radio: whole messages that are lost, late, doubled, or overtaken by later ones."""

from __future__ import annotations

import heapq
import random
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Damage:
    """Fractions of messages; a late one is up to `late_s` late, so that others overtake it."""

    lost_fraction: float = 0.0
    doubled_fraction: float = 0.0
    late_fraction: float = 0.0
    late_s: float = 0.5


class Radio:
    """Passes messages on to whoever takes them, now or later."""

    def __init__(self, damage: Damage, *, seed: int) -> None:
        self.damage = damage
        self.lost = self.doubled = self.late = 0
        self._rng = random.Random(seed)  # noqa: S311 - faults that can be repeated, not secrets
        self._waiting: list[tuple[float, int, Callable[[], None]]] = []
        self._count = 0

    def pass_on(self, deliver: Callable[[], None], now_s: float) -> None:
        """One message: `deliver` is called once, twice, or not at all."""
        if self._rng.random() < self.damage.lost_fraction:
            self.lost += 1
            return
        times = 1
        if self._rng.random() < self.damage.doubled_fraction:
            self.doubled += 1
            times = 2
        for _ in range(times):
            if self._rng.random() < self.damage.late_fraction:
                self.late += 1
                self._count += 1
                due_s = now_s + self._rng.uniform(0.0, self.damage.late_s)
                heapq.heappush(self._waiting, (due_s, self._count, deliver))
            else:
                deliver()

    def next_due_s(self) -> float:
        """When `release` has something to do; infinity: nothing waits."""
        return self._waiting[0][0] if self._waiting else float("inf")

    def release(self, now_s: float) -> None:
        """Delivers what is due."""
        while self._waiting and self._waiting[0][0] <= now_s:
            heapq.heappop(self._waiting)[2]()
