"""Telemetry on its way to a broker: a listener that never waits, and the loop that keeps the connection.

Drop policy: of each kettle's state only the newest waits; of events the newest EVENTS; whatever waits when a connection
is lost is dropped, and nothing is sent twice. A service whose broker is away brews on.
"""

from __future__ import annotations

import asyncio
import logging
from collections import deque
from collections.abc import AsyncIterator, Callable, Mapping, Sequence
from contextlib import AbstractAsyncContextManager, suppress
from dataclasses import dataclass
from typing import Never, Protocol

from kettlebridge.model.errors import LinkError
from kettlebridge.model.event import Event
from kettlebridge.model.ids import KettleId
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.mqtt import Message
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.outbound import discovery, telemetry
from kettlebridge.ports import Clock

log = logging.getLogger(__name__)

EVENTS = 256
FIRST_AGAIN_S = 1.0
LONGEST_AGAIN_S = 60.0
FAREWELL_S = 0.5


class Connection(Protocol):
    """What is asked of a connection to a broker. Everything raises LinkError once it does not stand."""

    async def publish(self, message: Message) -> None:
        """Hands a message to the network."""

    async def subscribe(self, topics: Sequence[str]) -> None:
        """Asks for topics."""

    def messages(self) -> AsyncIterator[Message]:
        """What comes in, until the connection is lost."""


Connect = Callable[[Message], AbstractAsyncContextManager[Connection]]
"""Opens a connection with that last will. Raises LinkError."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What is told: states every `period_s`, below `base`; descriptions below `prefix`, None for none."""

    base: str
    period_s: float
    prefix: str | None
    version: str


class MqttOut:
    """One broker for all kettles. `dropped` counts events that found the queue full or no connection."""

    def __init__(self, told: Told, kettles: Mapping[KettleId, Kettle], connect: Connect, clock: Clock) -> None:
        self.dropped = 0
        self._told = told
        self._kettles = kettles
        self._connect = connect
        self._clock = clock
        self._connected = False
        self._newest: dict[KettleId, Snapshot] = {}
        self._due: set[KettleId] = set()
        self._sent_s: dict[KettleId, float] = {}
        self._events: deque[Message] = deque()
        self._filled = asyncio.Event()

    def publish(self, snapshot: Snapshot, events: tuple[Event, ...]) -> None:
        """Keeps what a tick brought; never waits."""
        self._newest[snapshot.kettle] = snapshot
        for happened in events:
            if not self._connected:
                self.dropped += 1
                continue
            if len(self._events) >= EVENTS:
                self._events.popleft()
                self.dropped += 1
            self._events.append(telemetry.event(self._told.base, snapshot, happened))
        sent_s = self._sent_s.get(snapshot.kettle)
        if events or sent_s is None or self._clock.now_s() - sent_s >= self._told.period_s:
            self._sent_s[snapshot.kettle] = self._clock.now_s()
            self._due.add(snapshot.kettle)
        if self._due or self._events:
            self._filled.set()

    async def run(self) -> Never:
        """Connections, one after the other; one line in the log when the broker is lost, one when it is back."""
        again_s = FIRST_AGAIN_S
        known: str | None = None
        while True:
            try:
                async with self._connect(telemetry.status(self._told.base, online=False)) as connection:
                    if known is not None:
                        log.info("telemetry: the broker is back")
                    known, again_s = None, FIRST_AGAIN_S
                    await self._serve(connection)
            except LinkError as error:
                if known != error.reason.value:
                    log.warning("telemetry: %s", error)
                known = error.reason.value
            await self._clock.sleep_until(self._clock.now_s() + again_s)
            again_s = min(LONGEST_AGAIN_S, 2 * again_s)

    async def _serve(self, connection: Connection) -> None:
        self._events.clear()
        self._connected = True
        try:
            async with asyncio.TaskGroup() as group:
                group.create_task(self._read(connection), name="telemetry: reader")
                group.create_task(self._write(connection), name="telemetry: writer")
        except* LinkError as lost:
            raise _leaf(lost) from None
        finally:
            self._connected = False
            with suppress(LinkError, TimeoutError):
                async with asyncio.timeout(FAREWELL_S):
                    await connection.publish(telemetry.status(self._told.base, online=False))

    async def _read(self, connection: Connection) -> None:
        """Listens for a hub that starts. Without reading, a broker that has gone would not be noticed."""
        if self._told.prefix is not None:
            await connection.subscribe([discovery.birth_topic(self._told.prefix)])
        async for message in connection.messages():
            if message.payload == discovery.BIRTH_PAYLOAD and not message.retained:
                await self._introduce(connection)

    async def _write(self, connection: Connection) -> Never:
        await connection.publish(telemetry.status(self._told.base, online=True))
        await self._introduce(connection)
        while True:
            if self._events:
                await connection.publish(self._events.popleft())
            elif self._due:
                await connection.publish(telemetry.state(self._told.base, self._newest[self._due.pop()]))
            else:
                self._filled.clear()
                await self._filled.wait()

    async def _introduce(self, connection: Connection) -> None:
        """Descriptions first, then states: a hub ignores states of what it does not know."""
        if self._told.prefix is not None:
            for kettle in self._kettles.values():
                period_s, version = self._told.period_s, self._told.version
                await connection.publish(
                    discovery.config(kettle, self._told.base, self._told.prefix, period_s=period_s, version=version)
                )
        for snapshot in tuple(self._newest.values()):
            await connection.publish(telemetry.state(self._told.base, snapshot))


def _leaf(group: BaseExceptionGroup[LinkError]) -> BaseException:
    leaf: BaseException = group
    while isinstance(leaf, BaseExceptionGroup):
        leaf = leaf.exceptions[0]
    return leaf
