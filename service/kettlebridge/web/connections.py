"""Connections of the page. They take files from the same store as boards, record and control socket: all are bounded.

Whoever has not said in time what is wanted is cut off. Where all places are taken, the one that has been about it the
longest makes way for whoever comes: nobody who holds places silently keeps a stop of all heat out.
"""

from __future__ import annotations

import asyncio

from uvicorn.protocols.http.h11_impl import H11Protocol, RequestResponseCycle

ASKS_WITHIN_S = 20.0
"""Real seconds from a connection, or the answer before, to a whole request; an idle one is closed before that."""

CONNECTIONS = 400
"""Open at once, streams included; a process may have 1024 files open where nobody has set it otherwise."""


class Connection(H11Protocol):
    """One client's. `silent_since_s`: since when (the loop's time) it has said nothing whole; None: it is answered."""

    silent_since_s: float | None = None
    _late: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]  # as uvicorn has it
        """Comes in, if need be in the place of another."""
        super().connection_made(transport)
        self._is_silent()
        if len(self.connections) > CONNECTIONS:
            self._longest_silent().cut_off()

    def connection_lost(self, exc: Exception | None) -> None:
        """Goes."""
        self._is_heard()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Some bytes, which may be the last of a request."""
        super().data_received(data)
        self._look()

    def on_response_complete(self) -> None:
        """Answered; the next request may already be there."""
        self._is_silent()
        super().on_response_complete()
        self._look()

    def cut_off(self) -> None:
        """At once; until it is gone it is none of the silent."""
        self._is_heard()
        self.transport.abort()

    def _look(self) -> None:
        cycle: RequestResponseCycle | None = self.cycle
        if cycle is not None and not cycle.more_body and not cycle.response_complete:
            self._is_heard()

    def _is_silent(self) -> None:
        self._is_heard()
        self.silent_since_s = self.loop.time()
        self._late = self.loop.call_later(ASKS_WITHIN_S, self.cut_off)

    def _is_heard(self) -> None:
        self.silent_since_s = None
        if self._late is not None:
            self._late.cancel()
            self._late = None

    def _longest_silent(self) -> Connection:
        """Of the others that are silent the one that has been so longest; without any, this is one too many."""
        silent = [
            (other.silent_since_s, number, other)
            for number, other in enumerate(self.connections)
            if isinstance(other, Connection) and other is not self and other.silent_since_s is not None
        ]
        return min(silent)[2] if silent else self
