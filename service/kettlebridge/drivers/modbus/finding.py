"""Which modules answer on a Modbus line, and which of their registers look like temperatures. Only reads."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from kettlebridge.drivers.modbus.codec import Read, Trouble, TroubleKind
from kettlebridge.drivers.modbus.exchange import Exchange
from kettlebridge.drivers.modbus.port import open_port
from kettlebridge.drivers.modbus.settings import ModbusSettings
from kettlebridge.drivers.modbus.values import SHAPES, temperature_c
from kettlebridge.model.modbus_map import Area, Encoding, ModbusMap, RegisterPlace, WordOrder
from kettlebridge.ports import Clock

REGISTERS = 8
"""How many addresses of each area are looked at, from 0."""

PLAUSIBLE_C = (2.0, 105.0)
SCALES = (0.1, 0.01)
"""What modules for resistance thermometers usually write: tenths or hundredths of a degree."""

ANY_ANSWER = (Area.INPUT_REGISTERS, Area.HOLDING_REGISTERS, Area.COILS)


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundModule:
    """A module: what may be temperatures, with what they would be, and which coils can be read."""

    unit: int
    temperatures: tuple[tuple[RegisterPlace, float], ...]
    coils: int
    discrete_inputs: int


async def modules_at(path: str, line: ModbusMap, units: Iterable[int], clock: Clock) -> tuple[FoundModule, ...]:
    """Those that answer among `units`. Raises LinkError where the port does not open or goes away."""
    port = await open_port(path, line, clock)
    try:
        settings = ModbusSettings(port=path, map=line, lease_s=0.0, bursts=False, require_simulated=False)
        exchange = Exchange(port, settings, clock)
        return tuple([await _looked_at(exchange, unit) for unit in units if await _is_there(exchange, unit)])
    finally:
        port.close()


async def _is_there(exchange: Exchange, unit: int) -> bool:
    """A refusal is an answer too; where nobody answers the first question, nobody is asked the others."""
    said = await exchange.ask(Read(unit=unit, area=ANY_ANSWER[0], address=0, count=1))
    return not isinstance(said, Trouble) or said.kind is TroubleKind.REFUSED


async def _looked_at(exchange: Exchange, unit: int) -> FoundModule:
    temperatures: list[tuple[RegisterPlace, float]] = []
    for area in (Area.INPUT_REGISTERS, Area.HOLDING_REGISTERS):
        registers = await _readable(exchange, unit, area)
        if not temperatures:
            temperatures = _temperatures(unit, area, registers)
    return FoundModule(
        unit=unit,
        temperatures=tuple(temperatures),
        coils=len(await _readable(exchange, unit, Area.COILS)),
        discrete_inputs=len(await _readable(exchange, unit, Area.DISCRETE_INPUTS)),
    )


async def _readable(exchange: Exchange, unit: int, area: Area) -> list[int]:
    """Values from address 0 until the first that is not there."""
    values: list[int] = []
    for address in range(REGISTERS):
        said = await exchange.ask(Read(unit=unit, area=area, address=address, count=1))
        if isinstance(said, Trouble):
            break
        values.extend(said)
    return values


def _temperatures(unit: int, area: Area, registers: list[int]) -> list[tuple[RegisterPlace, float]]:
    """The first way of reading them that makes a temperature of every other register at least."""
    for encoding, scale, order in _ways():
        step = SHAPES[encoding].registers
        found = []
        for address in range(0, len(registers) - step + 1, step):
            place = RegisterPlace(
                unit=unit, area=area, address=address, encoding=encoding, scale=scale, word_order=order
            )
            value_c = temperature_c(place, registers[address : address + step])
            if isinstance(value_c, float) and PLAUSIBLE_C[0] <= value_c <= PLAUSIBLE_C[1]:
                found.append((place, value_c))
        if found and 2 * step * len(found) >= len(registers):
            return found
    return []


def _ways() -> Iterable[tuple[Encoding, float, WordOrder]]:
    for order in WordOrder:
        yield Encoding.FLOAT32, 1.0, order
    for scale in SCALES:
        yield Encoding.INT16, scale, WordOrder.HIGH_FIRST
