"""Ends a process whose event loop no longer turns, with a stack trace; the boards' leases have switched off by then."""

from __future__ import annotations

import faulthandler
from typing import Protocol

from kettlebridge.model.ids import KettleId

LIMIT_S = 2.0
"""Real seconds without a finished tick of any live kettle."""


class Guard(Protocol):
    """Told when a kettle's ticks are to come, of every finished one, and when they end for whatever reason."""

    def began(self, kettle: KettleId) -> None:
        """Ticks of `kettle` are expected from now on."""

    def finished(self, kettle: KettleId) -> None:
        """A tick of `kettle` is done, its demands are on their way."""

    def left(self, kettle: KettleId) -> None:
        """No further tick of `kettle` is expected."""


class NoGuard:
    """For accelerated time, where two real seconds mean nothing, and for a process that others look after."""

    def began(self, kettle: KettleId) -> None:
        """Does nothing."""

    def finished(self, kettle: KettleId) -> None:
        """Does nothing."""

    def left(self, kettle: KettleId) -> None:
        """Does nothing."""


class StuckGuard:
    """One for the process: armed by each finished tick, disarmed when no kettle is live any more.

    The timer is a thread of faulthandler's own that needs neither the loop nor the interpreter lock.
    """

    def __init__(self, limit_s: float = LIMIT_S) -> None:
        self._limit_s = limit_s
        self._live: set[KettleId] = set()

    def began(self, kettle: KettleId) -> None:
        """Nothing yet: the first tick may have a day to read."""

    def finished(self, kettle: KettleId) -> None:
        """Starts the limit anew."""
        self._live.add(kettle)
        faulthandler.dump_traceback_later(self._limit_s, exit=True)

    def left(self, kettle: KettleId) -> None:
        """Disarms with the last live kettle."""
        self._live.discard(kettle)
        if not self._live:
            faulthandler.cancel_dump_traceback_later()


class Guards:
    """Several as one."""

    def __init__(self, *guards: Guard) -> None:
        self._guards = guards

    def began(self, kettle: KettleId) -> None:
        """Tells all."""
        for guard in self._guards:
            guard.began(kettle)

    def finished(self, kettle: KettleId) -> None:
        """Tells all."""
        for guard in self._guards:
            guard.finished(kettle)

    def left(self, kettle: KettleId) -> None:
        """Tells all."""
        for guard in self._guards:
            guard.left(kettle)
