"""All relays of a line off, without a session: for when no service is there to do it."""

from __future__ import annotations

from kettlebridge.drivers.modbus.codec import Answer, Trouble, Write
from kettlebridge.drivers.modbus.exchange import Exchange
from kettlebridge.drivers.modbus.orders import DOWN_ORDER
from kettlebridge.drivers.modbus.port import open_port
from kettlebridge.drivers.modbus.relays import Relay
from kettlebridge.drivers.modbus.settings import ModbusSettings
from kettlebridge.model.errors import LinkError, LinkReason
from kettlebridge.ports import Clock

TRIES = 3


async def switch_off(settings: ModbusSettings, clock: Clock) -> None:
    """Returns once every relay's module has taken "off". Every relay is told; raises LinkError for those that fail."""
    port = await open_port(settings.port, settings.map, clock)
    try:
        exchange = Exchange(port, settings, clock)
        failed = []
        for output in DOWN_ORDER:
            place = settings.map.relays.get(output)
            if place is None:
                continue
            said = await _tried(exchange, Relay(place, bursts=False).off(clock.now_s()))
            if isinstance(said, Trouble):
                failed.append(f"relay {output.value} (unit {place.unit} on {settings.port}) {said}")
    finally:
        port.close()
    if failed:
        raise LinkError(LinkReason.NO_ANSWER, "; ".join(failed))


async def _tried(exchange: Exchange, write: Write) -> Answer | Trouble:
    said: Answer | Trouble = ()
    for _ in range(TRIES):
        said = await exchange.ask(write)
        if not isinstance(said, Trouble):
            break
    return said
