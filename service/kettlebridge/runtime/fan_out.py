"""Everybody who is told of a tick, and the newest view of every kettle for whoever asks."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import AsyncIterator, Sequence
from typing import Self
from weakref import WeakSet

from kettlebridge.model.event import Event
from kettlebridge.model.ids import KettleId
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.ports import Publisher

log = logging.getLogger(__name__)


class Reader:
    """One reader's latest-value slot: it may miss snapshots, never the last."""

    def __init__(self, newest: Snapshot | None) -> None:
        self._newest = newest
        self._changed = asyncio.Event()
        if newest is not None:
            self._changed.set()

    def put(self, snapshot: Snapshot) -> None:
        """Replaces what was not read yet."""
        self._newest = snapshot
        self._changed.set()

    def __aiter__(self) -> Self:
        return self

    async def __anext__(self) -> Snapshot:
        await self._changed.wait()
        self._changed.clear()
        assert self._newest is not None, "it only changes to something"  # noqa: S101 - for the type checker
        return self._newest


class FanOut:
    """Publisher and Snapshots in one. A listener that raises loses that tick, and nobody else does."""

    def __init__(self, listeners: Sequence[Publisher] = ()) -> None:
        self._listeners = tuple(listeners)
        self._latest: dict[KettleId, Snapshot] = {}
        self._readers: dict[KettleId, WeakSet[Reader]] = {}

    def publish(self, snapshot: Snapshot, events: tuple[Event, ...]) -> None:
        """Keeps the snapshot, fills the readers' slots, tells the listeners."""
        self._latest[snapshot.kettle] = snapshot
        for reader in self._readers.get(snapshot.kettle, ()):
            reader.put(snapshot)
        for listener in self._listeners:
            try:
                listener.publish(snapshot, events)
            except Exception:
                log.exception("kettle %s: tick %d could not be told", snapshot.kettle, snapshot.n)

    def latest(self, kettle: KettleId) -> Snapshot | None:
        """None until the first tick."""
        return self._latest.get(kettle)

    def stream(self, kettle: KettleId) -> AsyncIterator[Snapshot]:
        """The newest snapshot at once, then each change; it ends when it is let go."""
        reader = Reader(self._latest.get(kettle))
        self._readers.setdefault(kettle, WeakSet()).add(reader)
        return reader
