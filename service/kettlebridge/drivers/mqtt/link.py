"""Nodes on an MQTT broker as a Bridge: connects, listens, switches everything off, serves, and leaves it off.

Orders come from `offer` alone, one for each finished tick. Nothing is repeated: a new session knows none of the last
one's messages, and the broker keeps none for it. The broker sends the heater's "off" should this end vanish.
"""

from __future__ import annotations

import asyncio
import logging
import secrets
from collections.abc import Sequence
from typing import Never

from kettlebridge.drivers.mqtt import codec
from kettlebridge.drivers.mqtt.broker import BrokerConnection, open_broker
from kettlebridge.drivers.mqtt.echoes import Echoes
from kettlebridge.drivers.mqtt.outbox import Outbox
from kettlebridge.drivers.mqtt.session import Phase, Session
from kettlebridge.drivers.mqtt.settings import MqttSettings
from kettlebridge.model.demand import Demand, Output
from kettlebridge.model.errors import LinkError, LinkReason
from kettlebridge.model.mqtt import Message
from kettlebridge.ports import Clock, Inbox

log = logging.getLogger(__name__)

LISTEN_S = 2.5
"""Whoever serves these nodes tells them something every second: long enough to hear that."""

LISTEN_UP_TO_MORE_S = 1.0
"""Two services that start together do not listen equally long."""

ANSWER_S = 5.0
SILENCE_S = 3.0
"""Without a report for so long, the nodes or the broker count as lost."""

LOOK_S = 0.1
TEND_EVERY_S = 1.0
FAREWELL_S = 0.5
"""Real time for the last "off" on a connection that may be dead."""


class MqttNodes:
    """The nodes of one kettle. `run` may be called again after it has ended."""

    def __init__(self, settings: MqttSettings, clock: Clock) -> None:
        self._settings = settings
        self._clock = clock
        self._gate = clock.gate(f"mqtt {settings.broker} {settings.client_id}")
        self._echoes = Echoes(clock.gate(f"mqtt {settings.broker} {settings.client_id} commands"))
        self._outbox = Outbox()
        self._session: Session | None = None

    async def run(self, inbox: Inbox) -> None:
        """One session until cancelled. Raises LinkError when it is lost or refused."""
        client_id = f"{self._settings.client_id}-{secrets.token_hex(4)}"
        self._gate.shut()
        opened = open_broker(self._settings.broker, client_id, self._will(), hurried=self._settings.require_simulated)
        try:
            connection = await opened.__aenter__()
        finally:
            self._gate.open()
        try:
            await self._serve(connection, inbox)
        finally:
            await self._leave(connection)
            await opened.__aexit__(None, None, None)

    def offer(self, demands: tuple[Demand, ...]) -> None:
        """The commands for what a finished tick wants; never waits. Without a session, or empty: nothing is sent."""
        if demands and self._session is not None:
            self._outbox.put(self._session.order(demands, self._clock.now_s()))

    def all_off(self) -> None:
        """Tells every relay to be off."""
        if self._session is not None:
            self._outbox.put(self._session.all_off(self._clock.now_s()))

    def _will(self) -> Message | None:
        heater = self._settings.relays.get(Output.HEATER)
        return None if heater is None else Message(topic=heater.command, payload=codec.order(heater, 0))

    async def _serve(self, connection: BrokerConnection, inbox: Inbox) -> None:
        self._session = session = Session(self._settings, self._echoes, self._clock.now_s())
        self._outbox.clear()
        try:
            async with asyncio.TaskGroup() as group:
                group.create_task(self._read(connection, session, inbox), name="mqtt: reader")
                group.create_task(self._write(connection), name="mqtt: writer")
                self._gate.shut()
                try:
                    await connection.subscribe(session.topics)
                finally:
                    self._gate.open()
                if not self._settings.relays:
                    await self._tend(session, inbox)
                await self._join(session)
                inbox.linked()
                inbox.hear((), session.report(self._clock.now_s()))
                await self._watch(session)
        except BaseExceptionGroup as group_error:
            raise _first(group_error) from None

    async def _join(self, session: Session) -> None:
        """Listens for others, then has every node say that its relay is off. Raises LinkError."""
        more_s = LISTEN_UP_TO_MORE_S * secrets.randbelow(1000) / 1000
        await self._clock.sleep_until(self._clock.now_s() + LISTEN_S + more_s)
        session.phase = Phase.ASKING
        self._outbox.put(session.all_off(self._clock.now_s()))
        give_up_s = self._clock.now_s() + ANSWER_S
        while (missing := session.missing()) is not None:
            if self._clock.now_s() >= give_up_s:
                raise missing
            await self._clock.sleep_until(self._clock.now_s() + LOOK_S)
        session.phase = Phase.SERVING

    async def _tend(self, session: Session, inbox: Inbox) -> Never:
        """A session with nothing but probes: there is nobody to wait for, only who is silent to be told."""
        session.phase = Phase.SERVING
        inbox.linked()
        while True:
            now_s = self._clock.now_s()
            inbox.hear(session.silent(now_s), session.report(now_s))
            await self._clock.sleep_until(now_s + TEND_EVERY_S)

    async def _watch(self, session: Session) -> Never:
        """Raises LinkError when no report came for too long."""
        while self._clock.now_s() < session.fresh_s + SILENCE_S:
            await self._clock.sleep_until(session.fresh_s + SILENCE_S)
        missing = session.missing()
        detail = missing.detail if missing is not None else "no node tells anything"
        raise LinkError(LinkReason.LOST, f"no report for {SILENCE_S:g} s over {self._settings.broker}: {detail}")

    async def _read(self, connection: BrokerConnection, session: Session, inbox: Inbox) -> None:
        async for message in connection.messages():
            news = session.take(message, self._clock.now_s())
            if news.samples or news.report is not None:
                inbox.hear(news.samples, news.report)

    async def _write(self, connection: BrokerConnection) -> Never:
        while True:
            message = await self._outbox.next()
            self._echoes.sent(message)
            await connection.publish(message)

    async def _leave(self, connection: BrokerConnection) -> None:
        """Everything off once more: behind whatever a broker that froze may still hold of ours."""
        session, self._session = self._session, None
        self._echoes.forget()
        if session is None or session.phase is Phase.LISTENING:
            return
        self._gate.shut()
        try:
            await _say(connection, session.all_off(self._clock.now_s()))
        finally:
            self._gate.open()


async def _say(connection: BrokerConnection, messages: Sequence[Message]) -> None:
    try:
        async with asyncio.timeout(FAREWELL_S):
            await asyncio.gather(*(connection.publish(message, acknowledged=True) for message in messages))
    except (LinkError, TimeoutError) as error:
        log.debug("the last word did not get through: %s", error)


def _first(group: BaseExceptionGroup) -> BaseException:
    """What ended the session: a LinkError where there are only those; anything else stays as it came."""
    others = group.split(LinkError)[1]
    leaf: BaseException = group
    while others is None and isinstance(leaf, BaseExceptionGroup):
        leaf = leaf.exceptions[0]
    return leaf
