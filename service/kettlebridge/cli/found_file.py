"""A kettle file made of what was found: complete where a machine can know it, and honest where it cannot."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from kettlebridge.drivers.modbus.finding import FoundModule
from kettlebridge.drivers.mqtt.finding import FoundTopic
from kettlebridge.drivers.serial_line.finding import FoundBoard
from kettlebridge.model.modbus_map import Encoding, ModbusMap, RegisterPlace, WordOrder
from kettlebridge.model.mqtt import Broker

ROLES = ("control", "return", "ambient", "same_place", "chiller_out", "fermenter", "sparge")

VESSEL = """\
# Made by `kettlebridge find`. It knows what answered, not what it hangs on: a line with a "?" is a guess to replace.
# What each key means: docs/files.md. How to wire it, and what each way can guarantee: docs/connect.md.

schema = 1

[kettle]
name = "my_kettle"
capacity_l = 25             # ? to the brim
heater_w = 2500             # ? from the plate on the element
mains_v = 230               # ?
altitude_m = 100            # ?
element_cover_l = 4.0       # ?
under_basket_l = 4.5        # ?
boil_off_l_per_h = 2.5      # ?
dead_space_l = 0.8          # ?
basket_kg = 1.5             # ?
chill = "in_kettle"         # ? or "in_line"
"""

SERIAL_RELAYS = """
[relay.heater]
drive = "ssr"               # ? or "contactor"

[relay.main_contactor]      # ? without one, leave this out

[relay.pump]                # ? without one, leave this out
"""

MODBUS_RELAYS = """
# No scan can tell which coil is which relay, nor whether a module drops a relay by itself. Take it from its manual.
# A relay without timed-on may drive a pump, never a heater.
# [relay.heater]
# drive = "contactor"
# [relay.heater.modbus]
# place = "{unit}/coils/0"
# timed_on = "{unit}/coils/512"
# step_ms = 100
"""

MQTT_RELAYS = """
# What a node listens on, nobody can hear. A node without auto-off of its own may drive a pump, never a heater.
# [relay.heater]
# drive = "contactor"
# [relay.heater.mqtt]
# command = "..."
# state = "..."
# auto_off_s = 3
# rated_a = 16
# after_power_cut = "off"
"""


@dataclass(slots=True, kw_only=True)
class Found:
    """What answered, and where."""

    boards: list[tuple[str, FoundBoard]] = field(default_factory=list)
    modules: list[tuple[str, ModbusMap, tuple[FoundModule, ...]]] = field(default_factory=list)
    topics: list[tuple[Broker, tuple[FoundTopic, ...]]] = field(default_factory=list)

    def __bool__(self) -> bool:
        return bool(self.boards or self.modules or self.topics)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Probe:
    source: str
    keys: tuple[str, ...] = ()
    seen_c: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Bridge:
    kind: str
    keys: tuple[str, ...]
    probes: tuple[_Probe, ...]
    relays: str


def file_text(found: Found) -> str:
    """The file: the first bridge as `[bridge]`, the others as `[also.NAME]`, each probe with a role to be checked."""
    bridges = list(_bridges(found))
    names = [None, *(f"{bridge.kind}_{number}" for number, bridge in enumerate(bridges[1:], start=2))]
    parts = [VESSEL]
    for name, bridge in zip(names, bridges, strict=True):
        heading = "[bridge]" if name is None else f"[also.{name}]"
        parts.append("\n".join(("", heading, f'kind = "{bridge.kind}"', *bridge.keys)) + "\n")
    roles = iter(ROLES)
    number = 0
    for name, bridge in zip(names, bridges, strict=True):
        for probe in bridge.probes:
            number += 1
            parts.append(_probe_text(f"probe_{number}", name, bridge.kind, probe, next(roles, None)))
    parts.append(bridges[0].relays)
    return "".join(parts)


def _bridges(found: Found) -> Iterator[_Bridge]:
    for path, board in found.boards:
        yield _Bridge(
            kind="serial_line",
            keys=(f'port = "{path}"', f'board_id = "{board.board_id}"'),
            probes=tuple(_Probe(source=rom) for rom in board.roms),
            relays=SERIAL_RELAYS,
        )
    for path, line, modules in found.modules:
        relays = next((module.unit for module in modules if module.coils), modules[-1].unit)
        yield _Bridge(
            kind="modbus",
            keys=(f'port = "{path}"', f"baud = {line.baud}", f'parity = "{line.parity.value}"'),
            probes=tuple(
                _Probe(source=_source(place), keys=tuple(_modbus_keys(place)), seen_c=value_c)
                for module in modules
                for place, value_c in module.temperatures
            ),
            relays=MODBUS_RELAYS.format(unit=relays),
        )
    for broker, topics in found.topics:
        yield _Bridge(
            kind="mqtt",
            keys=(f'host = "{broker.host}"', f"port = {broker.port}"),
            probes=tuple(_Probe(source=str(topic.place), seen_c=topic.value) for topic in topics),
            relays=MQTT_RELAYS,
        )


def _source(place: RegisterPlace) -> str:
    return f"{place.unit}/{place.area.value}/{place.address}"


def _modbus_keys(place: RegisterPlace) -> Iterator[str]:
    yield f'encoding = "{place.encoding.value}"'
    if place.encoding is Encoding.FLOAT32 and place.word_order is not WordOrder.HIGH_FIRST:
        yield f'word_order = "{place.word_order.value}"'
    yield f"scale = {place.scale:g}"


def _probe_text(name: str, bridge: str | None, kind: str, probe: _Probe, role: str | None) -> str:
    """A probe beyond the roles there are is left as a comment."""
    seen = "" if probe.seen_c is None else f"   # said {probe.seen_c:.1f}"
    lines = [
        f"[probe.{name}]",
        *([] if bridge is None else [f'bridge = "{bridge}"']),
        f'source = "{probe.source}"{seen}',
    ]
    lines.append(f'role = "{role or "?"}"   # ?')
    if probe.keys:
        lines += ["", f"[probe.{name}.{kind}]", *probe.keys]
    return "\n" + "\n".join(lines if role else [f"# {line}" for line in lines]) + "\n"
