"""From the tables of a kettle file on Modbus to the values that the driver takes."""

from __future__ import annotations

import re
from dataclasses import dataclass

from kettlebridge.files.modbus_tables import ModbusInputTable, ModbusProbeTable, ModbusRelayTable
from kettlebridge.model.modbus_map import Area, BitPlace, ModbusMap, RegisterPlace, RelayPlace, TimedOn

_PLACE = re.compile(r"([0-9]{1,3})/([a-z_]+)/([0-9]{1,5})")
_UNITS = range(1, 248)
_ADDRESSES = range(65_536)


@dataclass(frozen=True, slots=True, kw_only=True)
class ModbusBridge:
    """Modules on a serial port, and what stands where in them."""

    port: str
    map: ModbusMap


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A place as it is written."""

    unit: int
    area: Area
    address: int


def spot(text: str) -> Spot | str:
    """The place that `text` names, or what is wrong with it."""
    found = _PLACE.fullmatch(text)
    if found is None:
        return "is no place: UNIT/AREA/ADDRESS, as 1/input_registers/0"
    unit, area, address = int(found[1]), found[2], int(found[3])
    if area not in {known.value for known in Area}:
        return f'"{area}" is no area: {", ".join(known.value for known in Area)}'
    if unit not in _UNITS:
        return f"unit {unit} is out of range: 1 to 247"
    if address not in _ADDRESSES:
        return f"address {address} is out of range: 0 to 65535, counted from 0 as on the wire"
    return Spot(unit=unit, area=Area(area), address=address)


def register_place(source: str, table: ModbusProbeTable | None) -> RegisterPlace:
    """A probe's `source` with its `[probe.NAME.modbus]`."""
    at, told = _sound(source), table or ModbusProbeTable()
    return RegisterPlace(
        unit=at.unit,
        area=at.area,
        address=at.address,
        encoding=told.encoding,
        word_order=told.word_order,
        scale=told.scale,
        zero_c=told.zero_c,
        open_codes=tuple(told.open_codes),
    )


def relay_place(table: ModbusRelayTable) -> RelayPlace:
    """A `[relay.NAME.modbus]`."""
    at = _sound(table.place)
    return RelayPlace(
        unit=at.unit, area=at.area, address=at.address, on=table.on, off=table.off, timed_on=_timed_on(table)
    )


def bit_place(table: ModbusInputTable) -> BitPlace:
    """An `[input.NAME.modbus]`."""
    at = _sound(table.place)
    return BitPlace(unit=at.unit, area=at.area, address=at.address, inverted=table.inverted)


def _timed_on(table: ModbusRelayTable) -> TimedOn | None:
    if table.timed_on is None or table.step_ms is None:
        return None
    at = _sound(table.timed_on)
    return TimedOn(
        area=at.area, address=at.address, step_ms=table.step_ms, plus=table.plus, most_steps=table.most_steps
    )


def _sound(text: str) -> Spot:
    found = spot(text)
    if isinstance(found, str):
        raise AssertionError(f"{text!r} passed the rules and yet {found}")
    return found
