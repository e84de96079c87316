"""Which topics on a broker look like temperatures. Only listens."""

from __future__ import annotations

import asyncio
import json
import math
import secrets
from collections.abc import Iterator
from dataclasses import dataclass

from kettlebridge.drivers.mqtt.broker import BrokerConnection, open_broker
from kettlebridge.model.mqtt import Broker, Message, Place
from kettlebridge.ports import Clock

HINT = "temp"
PLAUSIBLE = (-20.0, 250.0)
"""In °C or °F; which of them, nobody can tell from a number."""

LONGEST_PAYLOAD_BYTES = 4096
DEEPEST = 6
MOST = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundTopic:
    """`retained`: only what the broker kept was seen; such a node may be long gone."""

    place: Place
    value: float
    retained: bool


async def temperatures_at(broker: Broker, for_s: float, clock: Clock) -> tuple[FoundTopic, ...]:
    """What was told within `for_s`, each place once. Raises LinkError where the broker cannot be had."""
    found: dict[str, FoundTopic] = {}
    async with open_broker(broker, f"kettlebridge-find-{secrets.token_hex(4)}") as connection:
        await connection.subscribe(["#"])
        listening = asyncio.create_task(_listen(connection, found), name="listening")
        sleeping = asyncio.create_task(_sleep(clock, clock.now_s() + for_s), name="listening time")
        await asyncio.wait({listening, sleeping}, return_when=asyncio.FIRST_COMPLETED)
        for task in (listening, sleeping):
            task.cancel()
        await asyncio.wait({listening, sleeping})
        if not listening.cancelled() and (error := listening.exception()) is not None:
            raise error
    return tuple(sorted(found.values(), key=lambda topic: str(topic.place)))


def temperatures_in(message: Message) -> Iterator[FoundTopic]:
    """Numbers that are called a temperature, by the topic or by a key in its JSON."""
    if len(message.payload) > LONGEST_PAYLOAD_BYTES:
        return
    try:
        said = json.loads(message.payload)
    except (ValueError, RecursionError):
        return
    for pointer, number in _numbers(said, ""):
        called = f"{message.topic}{pointer}".lower()
        if HINT in called and PLAUSIBLE[0] <= number <= PLAUSIBLE[1]:
            place = Place(topic=message.topic, pointer=pointer or None)
            yield FoundTopic(place=place, value=number, retained=message.retained)


async def _listen(connection: BrokerConnection, found: dict[str, FoundTopic]) -> None:
    async for message in connection.messages():
        for topic in temperatures_in(message):
            key = str(topic.place)
            if (len(found) < MOST or key in found) and not (topic.retained and key in found):
                found[key] = topic


async def _sleep(clock: Clock, until_s: float) -> None:
    await clock.sleep_until(until_s)


def _numbers(said: object, pointer: str) -> Iterator[tuple[str, float]]:
    """Every number in it with its JSON pointer (RFC 6901)."""
    if isinstance(said, bool):
        return
    if isinstance(said, int | float):
        if math.isfinite(said):
            yield pointer, float(said)
    elif isinstance(said, dict) and pointer.count("/") < DEEPEST:
        for key, inner in said.items():
            yield from _numbers(inner, f"{pointer}/{str(key).replace('~', '~0').replace('/', '~1')}")
