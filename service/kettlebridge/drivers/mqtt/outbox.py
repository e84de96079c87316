"""Commands on their way out: of each topic only the newest, since an older one is worth nothing beside it."""

from __future__ import annotations

import asyncio
from collections.abc import Iterable

from kettlebridge.model.mqtt import Message


class Outbox:
    """Bounded by the number of command topics."""

    def __init__(self) -> None:
        self._waiting: dict[str, Message] = {}
        self._filled = asyncio.Event()

    def put(self, messages: Iterable[Message]) -> None:
        """Takes the place of what waits on the same topics; never waits itself."""
        self._waiting |= {message.topic: message for message in messages}
        if self._waiting:
            self._filled.set()

    async def next(self) -> Message:
        """The one that has waited longest."""
        while not self._waiting:
            self._filled.clear()
            await self._filled.wait()
        return self._waiting.pop(next(iter(self._waiting)))

    def clear(self) -> None:
        """Forgets what waits."""
        self._waiting.clear()
