"""What must hold in a kettle file whose probes, relays or inputs are on Modbus. Each rule yields (key, what is wrong).

A heater needs a relay that goes off by itself: without that no software could keep it from heating for ever.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from kettlebridge.files.key_lines import KeyPath
from kettlebridge.files.modbus_bridge import Spot, spot
from kettlebridge.files.peek import number_at, tables_at, text_at, value_at
from kettlebridge.model.modbus_map import Area

Findings = Iterator[tuple[KeyPath, str]]

MODBUS = "modbus"
OTHERS = ("serial_line", "mqtt")
HEATING = ("heater", "main_contactor")
WRITABLE = (Area.COILS, Area.HOLDING_REGISTERS)
REGISTERS = (Area.HOLDING_REGISTERS, Area.INPUT_REGISTERS)
BITS = (Area.COILS, Area.DISCRETE_INPUTS)
BURST_STEP_MS = 100
"""The coarsest step of a timed-on relay from which a burst within a second can be made."""

MOST_IN_A_WORD = 65_535


def modbus_findings(data: dict[str, Any]) -> Findings:
    """Every breach of every rule by what hangs on one bridge."""
    if text_at(data, "bridge", "kind") == MODBUS:
        for rule in RULES:
            yield from rule(data)
        return
    if text_at(data, "bridge", "kind") not in OTHERS:
        return
    for family in ("probe", "relay", "input"):
        for path, one in tables_at(data, family).items():
            if MODBUS in one:
                yield (*path, MODBUS), 'only on a bridge of kind = "modbus"'


def source_mistake(source: str) -> str | None:
    """What is wrong with the place of a probe, or None."""
    return _mistake(source, REGISTERS)


def _mistake(text: str, areas: tuple[Area, ...]) -> str | None:
    found = spot(text)
    if isinstance(found, str):
        return found
    if found.area not in areas:
        return f"{found.area.value} will not do here: {' or '.join(area.value for area in areas)}"
    return None


def _inner(data: dict[str, Any], family: str) -> Iterator[tuple[str, KeyPath, dict[str, Any]]]:
    for path, one in tables_at(data, family).items():
        inner = one.get(MODBUS)
        if isinstance(inner, dict):
            yield str(path[-1]), (*path, MODBUS), inner


def _reached(data: dict[str, Any]) -> Findings:
    for family in ("relay", "input"):
        for path, one in tables_at(data, family).items():
            if MODBUS not in one:
                yield (*path, MODBUS), f"missing: where the {family} is on the Modbus line"


def _places(data: dict[str, Any]) -> Findings:
    wanted = (("relay", "place", WRITABLE), ("relay", "timed_on", WRITABLE), ("input", "place", BITS))
    for family, key, areas in wanted:
        for _, path, inner in _inner(data, family):
            what = _mistake(inner[key], areas) if isinstance(inner.get(key), str) else None
            if what:
                yield (*path, key), what


def _each_place_once(data: dict[str, Any]) -> Findings:
    holders: dict[Spot, KeyPath] = {}
    for family, keys in (("relay", ("place", "timed_on")), ("input", ("place",))):
        for _, path, inner in _inner(data, family):
            own = {found for key in keys if isinstance(found := spot(str(inner.get(key))), Spot)}
            for at in own:
                first = holders.setdefault(at, path)
                if first != path:
                    yield path, f"shares {at.unit}/{at.area.value}/{at.address} with [{'.'.join(map(str, first))}]"


def _leases(data: dict[str, Any]) -> Findings:
    for name, path, relay in _inner(data, "relay"):
        if "timed_on" not in relay:
            if name in HEATING:
                yield (*path, "timed_on"), "missing: a relay without timed-on may drive a pump, never a heater"
            for key in ("step_ms", "plus", "most_steps"):
                if key in relay:
                    yield (*path, key), "only with timed_on"
            continue
        if "step_ms" not in relay:
            yield (*path, "step_ms"), "missing: how long a step of timed_on is"
        place, timed = spot(str(relay.get("place"))), spot(str(relay.get("timed_on")))
        if isinstance(place, Spot) and isinstance(timed, Spot) and place.unit != timed.unit:
            yield (*path, "timed_on"), f"is on unit {timed.unit}, the relay on unit {place.unit}: they are one relay"


def _values(data: dict[str, Any]) -> Findings:
    for _, path, relay in _inner(data, "relay"):
        if relay.get("on", 1) == relay.get("off", 0):
            yield (*path, "off"), "is the same as on"
        place = spot(str(relay.get("place")))
        if isinstance(place, Spot) and place.area is Area.COILS:
            for key in ("on", "off"):
                if key in relay:
                    yield (*path, key), "a coil is on at 1 and off at 0"
        plus, steps = number_at(relay, "plus") or 0, number_at(relay, "most_steps") or 255
        if plus + steps > MOST_IN_A_WORD:
            yield (*path, "most_steps"), f"plus and most_steps together are more than {MOST_IN_A_WORD}"


def _long_enough(data: dict[str, Any]) -> Findings:
    """Demands come every second: a lease must reach over two of them, and a step must fit into it."""
    lease_s = number_at(data, "safety", "lease_s") or 3.0
    for _, path, relay in _inner(data, "relay"):
        step_ms = number_at(relay, "step_ms")
        if step_ms is None or "timed_on" not in relay:
            continue
        if step_ms > lease_s * 1000 - 1500:
            yield (*path, "step_ms"), f"{step_ms:g} ms is too long a step for lease_s = {lease_s:g}"
        if step_ms * (number_at(relay, "most_steps") or 255) < 2000:
            yield (*path, "most_steps"), "is too few: a demand comes every second, so at least 2 s must be possible"


def _bursts(data: dict[str, Any]) -> Findings:
    if text_at(data, "relay", "heater", "drive") != "ssr":
        return
    step_ms = number_at(data, "relay", "heater", MODBUS, "step_ms")
    if step_ms is not None and step_ms > BURST_STEP_MS:
        yield (
            ("relay", "heater", "drive"),
            f'an SSR is driven in bursts, which takes step_ms of at most {BURST_STEP_MS}; else "contactor"',
        )


def _numbers(data: dict[str, Any]) -> Findings:
    for _, path, probe in _inner(data, "probe"):
        if "word_order" in probe and probe.get("encoding", "int16") in {"int16", "uint16"}:
            yield (*path, "word_order"), "only with an encoding of 32 bits"
        if probe.get("encoding") == "float32" and value_at(probe, "open_codes"):
            yield (*path, "open_codes"), "a float32 says it with what is no number: leave them out"


RULES: tuple[Callable[[dict[str, Any]], Findings], ...] = (
    _reached,
    _places,
    _each_place_once,
    _leases,
    _values,
    _long_enough,
    _bursts,
    _numbers,
)
