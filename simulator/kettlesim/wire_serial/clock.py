"""What a simulated board asks of time: the shape of a clock, so that any clock of this shape will do."""

from __future__ import annotations

from typing import Protocol


class Gate(Protocol):
    """Counts bytes under way, which accelerated time must wait for."""

    def shut(self, count: int = 1) -> None:
        """`count` more are under way."""

    def open(self, count: int = 1) -> None:
        """`count` of them have been handled."""


class Clock(Protocol):
    """Real or accelerated time, in seconds."""

    def now_s(self) -> float:
        """Never goes back."""

    async def sleep_until(self, when_s: float) -> None:
        """Returns once `now_s() >= when_s`."""

    def gate(self, name: str) -> Gate:
        """The gate called `name`, the same one for the same name."""
