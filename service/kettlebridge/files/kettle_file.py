"""Loading a kettle file."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import reduce
from operator import or_
from pathlib import Path

from kettlebridge.files.document import read_document
from kettlebridge.files.kettle_rules import expected_boil_c, kettle_findings
from kettlebridge.files.kettle_tables import (
    DEFAULT_LIMIT_OVER_BOIL_C,
    LOSS_W_PER_K_AT_25_L,
    KettleTables,
    ProbeTable,
    SerialLineTable,
    VesselTable,
)
from kettlebridge.files.key_lines import KeyLines, KeyPath
from kettlebridge.files.mqtt_bridge import MqttBridge, PasswordError, broker_of, probe_wire, relay_wire
from kettlebridge.files.mqtt_tables import MqttTable
from kettlebridge.files.wording import in_order, validate
from kettlebridge.model.demand import Output
from kettlebridge.model.errors import FileError, Mistake
from kettlebridge.model.ids import KettleId, ProbeName
from kettlebridge.model.kettle import Kettle, LevelMark, Probe, Safety, Supply
from kettlebridge.model.reading import BoardInput


@dataclass(frozen=True, slots=True, kw_only=True)
class SerialLineBridge:
    """A board on a serial line: the device of the port and the id that the board must answer with."""

    port: str
    board_id: str


@dataclass(frozen=True, slots=True, kw_only=True)
class KettleFile:
    """A kettle, the wire to its board, and where it was written. `code` is the one posted at the kettle, if any is."""

    kettle: Kettle
    bridge: SerialLineBridge | MqttBridge
    path: str
    code: str | None = field(default=None, repr=False)
    lines: KeyLines = field(default_factory=KeyLines, compare=False, repr=False)

    def mistake(self, key: KeyPath, what: str) -> Mistake:
        """A mistake at a key of this file."""
        return Mistake(path=self.path, line=self.lines.of(key), key=".".join(map(str, key)), what=what)


def load_kettle(path: str | os.PathLike[str]) -> KettleFile:
    """Reads a kettle file. Raises FileError with every mistake in it."""
    document = read_document(path)
    tables, mistakes = validate(KettleTables, document)
    mistakes += [document.mistake(key, what) for key, what in kettle_findings(document.data)]
    boils_c = expected_boil_c(document.data)
    if tables is None or boils_c is None or mistakes:
        raise FileError(in_order(mistakes))
    try:
        bridge = BRIDGES[tables.bridge.kind](tables, Path(path).parent)
    except PasswordError as error:
        raise FileError((document.mistake(("bridge", "password_file"), str(error)),)) from error
    return KettleFile(
        kettle=_kettle(tables, boils_c),
        bridge=bridge,
        path=document.path,
        code=tables.safety.code,
        lines=document.lines,
    )


def _serial_line(tables: KettleTables, folder: Path) -> SerialLineBridge:
    assert isinstance(tables.bridge, SerialLineTable), "told apart by its kind"  # noqa: S101 - for the type checker
    return SerialLineBridge(port=tables.bridge.port, board_id=tables.bridge.board_id)


def _mqtt(tables: KettleTables, folder: Path) -> MqttBridge:
    assert isinstance(tables.bridge, MqttTable), "told apart by its kind"  # noqa: S101 - for the type checker
    relays = {
        Output.HEATER: tables.relay.heater,
        Output.PUMP: tables.relay.pump,
        Output.MAIN_CONTACTOR: tables.relay.main_contactor,
    }
    return MqttBridge(
        broker=broker_of(tables.bridge, folder),
        client_id=tables.bridge.client_id or f"kettlebridge-{tables.kettle.name}",
        probes={ProbeName(name): probe_wire(probe.source, probe.mqtt) for name, probe in tables.probe.items()},
        relays={output: relay_wire(relay.mqtt) for output, relay in relays.items() if relay and relay.mqtt},
    )


BRIDGES: dict[str, Callable[[KettleTables, Path], SerialLineBridge | MqttBridge]] = {
    "serial_line": _serial_line,
    "mqtt": _mqtt,
}
"""By the kind of `[bridge]`."""


def _kettle(tables: KettleTables, boils_c: float) -> Kettle:
    vessel = tables.kettle
    limit_c = tables.safety.limit_c
    return Kettle(
        name=KettleId(vessel.name),
        capacity_l=vessel.capacity_l,
        heater_w=vessel.heater_w,
        mains_v=vessel.mains_v,
        boil_c=boils_c,
        element_cover_l=vessel.element_cover_l,
        under_basket_l=vessel.under_basket_l,
        loss_w_per_k=default_loss_w_per_k(vessel.capacity_l) if vessel.loss_w_per_k is None else vessel.loss_w_per_k,
        boil_off_l_per_h=vessel.boil_off_l_per_h,
        dead_space_l=vessel.dead_space_l,
        grain_absorption_l_per_kg=vessel.grain_absorption_l_per_kg,
        basket_kg=vessel.basket_kg,
        probe_delay_s=vessel.probe_delay_s,
        pump_l_per_min=vessel.pump_l_per_min,
        regulator=vessel.regulator,
        mash_target=vessel.mash_target,
        chill=vessel.chill,
        marks=_marks(vessel),
        drive=tables.relay.heater.drive,
        has_pump=tables.relay.pump is not None,
        has_main_contactor=tables.relay.main_contactor is not None,
        probes=tuple(_probe(name, probe, tables.bridge.kind) for name, probe in tables.probe.items()),
        inputs=reduce(or_, (BoardInput[wired.role.upper()] for wired in tables.input.values()), BoardInput.NONE),
        safety=Safety(
            limit_c=boils_c + DEFAULT_LIMIT_OVER_BOIL_C if limit_c is None else limit_c, lease_s=tables.safety.lease_s
        ),
        supply=Supply(circuit=tables.supply.circuit, max_w=tables.supply.max_w) if tables.supply else None,
    )


def default_loss_w_per_k(capacity_l: float) -> float:
    """Loss of a bare kettle: surface grows with the two-thirds power of volume; 8 W/K at 25 L is an estimate."""
    return float(LOSS_W_PER_K_AT_25_L * (capacity_l / 25.0) ** (2.0 / 3.0))


def _marks(vessel: VesselTable) -> tuple[LevelMark, ...]:
    pairs = zip(vessel.mark_l or (), vessel.mark_cm or (), strict=True)
    return tuple(LevelMark(litres=litres, cm=cm) for litres, cm in pairs)


def _probe(name: str, probe: ProbeTable, kind: str) -> Probe:
    gain, offset_c = 1.0, probe.offset_c
    if probe.read_c and probe.true_c:
        gain = (probe.true_c[1] - probe.true_c[0]) / (probe.read_c[1] - probe.read_c[0])
        offset_c = probe.true_c[0] - gain * probe.read_c[0]
    source = probe.source.upper() if kind == "serial_line" else probe.source
    return Probe(name=ProbeName(name), source=source, role=probe.role, gain=gain, offset_c=offset_c)
