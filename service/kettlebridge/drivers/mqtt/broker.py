"""A connection to a broker: one session, always clean, never mended. Whoever wants another opens another.

Nothing is kept for a later connection on either side, so nothing is ever sent twice. Only reading shows that a broker
is gone: whoever holds a connection reads its messages.
"""

from __future__ import annotations

import asyncio
import logging
import socket
import ssl
from collections.abc import AsyncIterator, Iterator, Sequence
from contextlib import asynccontextmanager, contextmanager, suppress

import aiomqtt
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from kettlebridge.drivers.mqtt.latest import LatestPerTopic
from kettlebridge.drivers.mqtt.prompt import PromptClient
from kettlebridge.model.errors import LinkError, LinkReason
from kettlebridge.model.mqtt import Broker, Message, MqttVersion, Tls

KEEPALIVE_S = 10
"""A broker that froze is given up after one and a half times as long, if nothing else shows it before."""

PATIENCE_S = 5.0
"""Real time for an answer of the broker."""

HURRIED_PATIENCE_S = 1.0
"""The same in accelerated time, which stands still meanwhile, and not for long."""

CLOSING_S = 0.5
UNSUPPORTED_VERSION = 0x84
TAKEN_OVER = 0x8E
REFUSED_FROM = 0x80
"""Reason codes of MQTT 5 (2.4), to which the library translates those of 3.1.1."""

PROTOCOLS = {MqttVersion.V311: aiomqtt.ProtocolVersion.V311, MqttVersion.V5: aiomqtt.ProtocolVersion.V5}
LIBRARY = logging.getLogger(f"{__name__}.library")
LIBRARY.setLevel(logging.ERROR)
"""A connection that could not be had is told once, by whoever wanted it."""

NO_DELAY = ((socket.IPPROTO_TCP, socket.TCP_NODELAY, 1),)
"""A demand waits for no second one to share its packet."""


class BrokerConnection:
    """What may be done while it stands. Everything raises LinkError once it does not."""

    def __init__(self, client: aiomqtt.Client, broker: Broker) -> None:
        self._client = client
        self._broker = broker

    async def publish(self, message: Message, *, acknowledged: bool = False) -> None:
        """Hands the message to the network once (QoS 0): whether anybody got it, their answer must show.

        `acknowledged`: returns when the broker has passed it on (QoS 1). What is written is written before any wait.
        """
        try:
            with _cancellable():
                await self._client.publish(
                    message.topic,
                    message.payload,
                    qos=int(acknowledged),
                    retain=message.retained,
                    properties=_expiring(message, self._broker),
                )
        except aiomqtt.MqttError as error:
            raise _lost(error, self._broker) from error

    async def subscribe(self, topics: Sequence[str]) -> None:
        """Asks for these topics; the broker agreed when it returns."""
        try:
            with _cancellable():
                granted = await self._client.subscribe([(topic, 0) for topic in topics])
        except aiomqtt.MqttError as error:
            raise _lost(error, self._broker) from error
        codes = [code if isinstance(code, int) else int(code.value) for code in granted]
        refused = [topic for topic, code in zip(topics, codes, strict=True) if code >= REFUSED_FROM]
        if refused:
            raise LinkError(
                LinkReason.NOT_ADMITTED, f"the broker {self._broker} refuses to tell of {', '.join(refused)}"
            )

    async def messages(self) -> AsyncIterator[Message]:
        """What comes in; of a topic that came several times meanwhile only the newest. Ends by raising LinkError."""
        try:
            async for came in self._client.messages:
                yield Message(topic=str(came.topic), payload=bytes(came.payload), retained=came.retain)
        except aiomqtt.MqttError as error:
            raise _lost(error, self._broker) from error


@asynccontextmanager
async def open_broker(
    broker: Broker, client_id: str, will: Message | None = None, *, hurried: bool = False
) -> AsyncIterator[BrokerConnection]:
    """Connects, with the message that the broker sends for us should we vanish. Raises LinkError."""
    client = _client(broker, client_id, will)
    client.timeout = HURRIED_PATIENCE_S if hurried else PATIENCE_S
    await _connected(client, broker)
    try:
        yield BrokerConnection(client, broker)
    finally:
        await _closed(client)


@contextmanager
def _cancellable() -> Iterator[None]:
    """Raises a cancellation that was lost within.

    The library waits with `asyncio.wait_for`, which in Python 3.11 swallows one that comes as its wait ends.
    """
    task = asyncio.current_task()
    before = 0 if task is None else task.cancelling()
    yield
    if task is not None and task.cancelling() > before:
        raise asyncio.CancelledError


def _client(broker: Broker, client_id: str, will: Message | None) -> aiomqtt.Client:
    newer = broker.version is MqttVersion.V5
    return PromptClient(
        broker.host,
        broker.port,
        username=broker.username,
        password=broker.password,
        identifier=client_id,
        queue_type=LatestPerTopic,
        protocol=PROTOCOLS[broker.version],
        clean_session=None if newer else True,
        will=None if will is None else aiomqtt.Will(will.topic, will.payload, 0, will.retained),
        keepalive=KEEPALIVE_S,
        tls_context=None if broker.tls is None else _tls(broker.tls),
        socket_options=NO_DELAY,
        logger=LIBRARY,
    )


class _ClosingSocket(ssl.SSLSocket):
    """Closes when its handshake fails, where the library forgets it: every try would leave one behind."""

    def do_handshake(self, block: bool = False) -> None:
        """As usual."""
        try:
            super().do_handshake(block)
        except OSError:
            self.close()
            raise


def _tls(tls: Tls) -> ssl.SSLContext:
    try:
        context = ssl.create_default_context(cafile=tls.ca_file)
        context.sslsocket_class = _ClosingSocket
        if tls.cert_file is not None:
            context.load_cert_chain(tls.cert_file, tls.key_file)
    except (OSError, ValueError) as error:
        files = ", ".join(name for name in (tls.ca_file, tls.cert_file, tls.key_file) if name is not None)
        raise LinkError(LinkReason.NOT_ADMITTED, f"the certificates ({files}) cannot be used: {error}") from error
    return context


async def _connected(client: aiomqtt.Client, broker: Broker) -> None:
    """Connects. The library does that in a thread, which no cancellation stops: it is waited for, then let go."""
    entering = asyncio.create_task(client.__aenter__(), name=f"connect to {broker}")
    try:
        await asyncio.shield(entering)
    except asyncio.CancelledError:
        await asyncio.wait({entering})
        entering.exception()
        await _closed(client)
        raise
    except aiomqtt.MqttError as error:
        await _closed(client)
        raise _unreachable(error, broker) from error


async def _closed(client: aiomqtt.Client) -> None:
    """Takes leave; a broker that does not answer is left without."""
    client.timeout = CLOSING_S
    with suppress(aiomqtt.MqttError):
        await client.__aexit__(None, None, None)


def _expiring(message: Message, broker: Broker) -> Properties | None:
    if message.expiry_s is None or broker.version is not MqttVersion.V5:
        return None
    properties = Properties(PacketTypes.PUBLISH)  # type: ignore[no-untyped-call]  # paho leaves it untyped
    properties.MessageExpiryInterval = message.expiry_s
    return properties


def _unreachable(error: aiomqtt.MqttError, broker: Broker) -> LinkError:
    cause = error.__context__
    if isinstance(error, aiomqtt.MqttCodeError):
        code = error.rc if isinstance(error.rc, int) or error.rc is None else error.rc.value
        reason = LinkReason.OTHER_VERSION if code == UNSUPPORTED_VERSION else LinkReason.NOT_ADMITTED
        return LinkError(reason, f"the broker {broker} refuses: {error.rc}")
    if isinstance(cause, ssl.SSLError):
        return LinkError(LinkReason.NOT_ADMITTED, f"no safe connection to the broker {broker}: {cause}")
    if isinstance(cause, OSError) and str(cause):
        return LinkError(LinkReason.NO_BROKER, f"{broker}: {cause}")
    return LinkError(LinkReason.NO_BROKER, f"{broker} accepts the connection and does not answer")


def _lost(error: aiomqtt.MqttError, broker: Broker) -> LinkError:
    for cause in (error, error.__cause__):
        code = getattr(getattr(cause, "rc", None), "value", None)
        if code == TAKEN_OVER:
            return LinkError(LinkReason.BUSY, f"another client took this one's id at the broker {broker}")
    return LinkError(LinkReason.LOST, f"the broker {broker} is gone: {error.__cause__ or error}")
