"""All relays of a kettle's nodes off, without a session: for when no service is there to do it."""

from __future__ import annotations

import asyncio
import secrets

from kettlebridge.drivers.mqtt import codec
from kettlebridge.drivers.mqtt.broker import open_broker
from kettlebridge.drivers.mqtt.settings import MqttSettings
from kettlebridge.model.errors import LinkError, LinkReason
from kettlebridge.model.mqtt import Message
from kettlebridge.ports import Clock

PATIENCE_S = 5.0
"""Real time for a broker to pass the orders on."""


async def switch_off(settings: MqttSettings, clock: Clock) -> None:
    """Returns once the broker has taken "off" for every relay; that a node got it, nobody asks here.

    Raises LinkError. `clock` is the other drivers' affair: a broker answers in real time.
    """
    client_id = f"{settings.client_id}-off-{secrets.token_hex(4)}"
    orders = [Message(topic=relay.command, payload=codec.order(relay, 0)) for relay in settings.relays.values()]
    try:
        async with asyncio.timeout(PATIENCE_S), open_broker(settings.broker, client_id) as connection:
            await asyncio.gather(*(connection.publish(order, acknowledged=True) for order in orders))
    except TimeoutError:
        raise LinkError(LinkReason.NO_ANSWER, f"the broker {settings.broker} does not pass the orders on") from None
