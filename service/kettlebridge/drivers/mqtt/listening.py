"""Listening to a probe in a fermenter: a connection of its own that says nothing, and needs no relay's node."""

from __future__ import annotations

import secrets
from collections.abc import AsyncGenerator

from kettlebridge.drivers.mqtt.broker import open_broker
from kettlebridge.drivers.mqtt.codec import celsius, number, value_at
from kettlebridge.model.fermentation import Heard
from kettlebridge.model.mqtt import Broker, Message, ProbeWire


async def listen(
    broker: Broker, client_id: str, wire: ProbeWire, *, hurried: bool = False
) -> AsyncGenerator[Heard, None]:
    """What the probe tells, as it tells it; what the broker had kept is not news. Raises LinkError when it is lost.

    Where gravity has a topic of its own, the newest goes with each temperature.
    """
    topics = dict.fromkeys((wire.place.topic, *(() if wire.gravity is None else (wire.gravity.topic,))))
    gravity_sg: float | None = None
    async with open_broker(broker, f"{client_id}-fermenter-{secrets.token_hex(4)}", hurried=hurried) as connection:
        await connection.subscribe(tuple(topics))
        async for message in connection.messages():
            if message.retained:
                continue
            gravity_sg = _gravity(message, wire, gravity_sg)
            at_c = celsius(message.payload, wire.place, wire.unit) if message.topic == wire.place.topic else None
            if at_c is not None:
                yield Heard(at_c=at_c, gravity_sg=gravity_sg)


def _gravity(message: Message, wire: ProbeWire, before_sg: float | None) -> float | None:
    """The newest; a payload of its place without a number takes it back."""
    if wire.gravity is None or message.topic != wire.gravity.topic:
        return before_sg
    return number(value_at(message.payload, wire.gravity))
