"""Loading a kettle file."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import reduce
from operator import or_
from pathlib import Path
from typing import Any

from kettlebridge.files.bridge_views import MAIN
from kettlebridge.files.document import Document, read_document
from kettlebridge.files.kettle_rules import expected_boil_c, kettle_findings
from kettlebridge.files.kettle_tables import (
    DEFAULT_LIMIT_OVER_BOIL_C,
    LOSS_W_PER_K_AT_25_L,
    InputTable,
    KettleTables,
    PlainRelayTable,
    ProbeTable,
    SerialLineTable,
    VesselTable,
)
from kettlebridge.files.key_lines import KeyLines, KeyPath
from kettlebridge.files.modbus_bridge import ModbusBridge, bit_place, register_place, relay_place
from kettlebridge.files.modbus_tables import ModbusTable
from kettlebridge.files.mqtt_bridge import MqttBridge, PasswordError, broker_of, probe_wire, relay_wire
from kettlebridge.files.mqtt_tables import MqttTable
from kettlebridge.files.wording import in_order, validate
from kettlebridge.model.demand import Output
from kettlebridge.model.errors import FileError, Mistake
from kettlebridge.model.ids import KettleId, ProbeName
from kettlebridge.model.kettle import Kettle, LevelMark, Probe, Safety, Supply
from kettlebridge.model.modbus_map import ModbusMap
from kettlebridge.model.reading import BoardInput


@dataclass(frozen=True, slots=True, kw_only=True)
class SerialLineBridge:
    """A board on a serial line: the device of the port and the id that the board must answer with."""

    port: str
    board_id: str


AnyBridge = SerialLineBridge | ModbusBridge | MqttBridge


@dataclass(frozen=True, slots=True, kw_only=True)
class Board:
    """A bridge with what hangs on it. `name` is NAME of `[also.NAME]`, empty for `[bridge]`."""

    name: str
    bridge: AnyBridge
    probes: tuple[Probe, ...]
    outputs: tuple[Output, ...]
    inputs: BoardInput


@dataclass(frozen=True, slots=True, kw_only=True)
class KettleFile:
    """A kettle, the wire to its board, and where it was written. `code` is the one posted at the kettle, if any is.

    `also` are boards beside `[bridge]`.
    """

    kettle: Kettle
    bridge: AnyBridge
    path: str
    also: tuple[Board, ...] = ()
    code: str | None = field(default=None, repr=False)
    lines: KeyLines = field(default_factory=KeyLines, compare=False, repr=False)

    @property
    def boards(self) -> tuple[Board, ...]:
        """That of `[bridge]`, with all that hangs on no other, and the others."""
        kettle = self.kettle
        elsewhere = {probe.name for board in self.also for probe in board.probes}
        outputs = {output for board in self.also for output in board.outputs}
        inputs = reduce(or_, (board.inputs for board in self.also), BoardInput.NONE)
        has = {Output.HEATER: True, Output.PUMP: kettle.has_pump, Output.MAIN_CONTACTOR: kettle.has_main_contactor}
        main = Board(
            name=MAIN,
            bridge=self.bridge,
            probes=tuple(probe for probe in kettle.probes if probe.name not in elsewhere),
            outputs=tuple(output for output, there in has.items() if there and output not in outputs),
            inputs=kettle.inputs & ~inputs,
        )
        return (main, *self.also)

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
    kettle = _kettle(tables, boils_c)
    main, *others = _boards(tables, kettle, document)
    return KettleFile(
        kettle=kettle,
        bridge=main.bridge,
        also=tuple(others),
        path=document.path,
        code=tables.safety.code,
        lines=document.lines,
    )


def _boards(tables: KettleTables, kettle: Kettle, document: Document) -> list[Board]:
    """That of `[bridge]` first. Raises FileError for password files."""
    folder = Path(document.path).parent
    mistakes = []
    boards = []
    for name, table in {MAIN: tables.bridge, **tables.also}.items():
        hung = _hung(tables, name)
        try:
            bridge = BRIDGES[table.kind](table, hung, folder)
        except PasswordError as error:
            place = ("bridge",) if name == MAIN else ("also", name)
            mistakes.append(document.mistake((*place, "password_file"), str(error)))
            continue
        board = Board(
            name=name,
            bridge=bridge,
            probes=tuple(probe for probe in kettle.probes if probe.name in hung.probes),
            outputs=tuple(hung.relays),
            inputs=reduce(or_, hung.inputs, BoardInput.NONE),
        )
        boards.append(board)
    if mistakes:
        raise FileError(in_order(mistakes))
    return boards


@dataclass(frozen=True, slots=True, kw_only=True)
class _Hung:
    """What hangs on one bridge, as it is written."""

    kettle: str
    probes: dict[ProbeName, ProbeTable]
    relays: dict[Output, PlainRelayTable]
    inputs: dict[BoardInput, InputTable]


def _hung(tables: KettleTables, name: str) -> _Hung:
    wanted = None if name == MAIN else name
    relays = {
        Output.HEATER: tables.relay.heater,
        Output.PUMP: tables.relay.pump,
        Output.MAIN_CONTACTOR: tables.relay.main_contactor,
    }
    return _Hung(
        kettle=tables.kettle.name,
        probes={ProbeName(probe): table for probe, table in tables.probe.items() if table.bridge == wanted},
        relays={output: table for output, table in relays.items() if table is not None and table.bridge == wanted},
        inputs={_flag(table): table for table in tables.input.values() if table.bridge == wanted},
    )


def _flag(table: InputTable) -> BoardInput:
    return BoardInput[table.role.upper()]


def _serial_line(table: SerialLineTable, _hung: _Hung, _folder: Path) -> SerialLineBridge:
    return SerialLineBridge(port=table.port, board_id=table.board_id)


def _modbus(table: ModbusTable, hung: _Hung, _folder: Path) -> ModbusBridge:
    wired = ModbusMap(
        baud=table.baud,
        parity=table.parity,
        stop_bits=table.stop_bits,
        probes={name: register_place(probe.source, probe.modbus) for name, probe in hung.probes.items()},
        relays={output: relay_place(relay.modbus) for output, relay in hung.relays.items() if relay.modbus},
        inputs={flag: bit_place(wired.modbus) for flag, wired in hung.inputs.items() if wired.modbus},
    )
    return ModbusBridge(port=table.port, map=wired)


def _mqtt(table: MqttTable, hung: _Hung, folder: Path) -> MqttBridge:
    return MqttBridge(
        broker=broker_of(table, folder),
        client_id=table.client_id or f"kettlebridge-{hung.kettle}",
        probes={name: probe_wire(probe.source, probe.mqtt) for name, probe in hung.probes.items()},
        relays={output: relay_wire(relay.mqtt) for output, relay in hung.relays.items() if relay.mqtt},
    )


BRIDGES: dict[str, Callable[[Any, _Hung, Path], AnyBridge]] = {
    "serial_line": _serial_line,
    "modbus": _modbus,
    "mqtt": _mqtt,
}
"""By the kind of bridge: from its table, and what hangs on it."""


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
        probes=tuple(_probe(name, probe, _kind_of(tables, probe)) for name, probe in tables.probe.items()),
        inputs=reduce(or_, (_flag(wired) for wired in tables.input.values()), BoardInput.NONE),
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


def _kind_of(tables: KettleTables, probe: ProbeTable) -> str:
    return tables.bridge.kind if probe.bridge is None else tables.also[probe.bridge].kind


def _probe(name: str, probe: ProbeTable, kind: str) -> Probe:
    gain, offset_c = 1.0, probe.offset_c
    if probe.read_c and probe.true_c:
        gain = (probe.true_c[1] - probe.true_c[0]) / (probe.read_c[1] - probe.read_c[0])
        offset_c = probe.true_c[0] - gain * probe.read_c[0]
    source = probe.source.upper() if kind == "serial_line" else probe.source
    return Probe(name=ProbeName(name), source=source, role=probe.role, gain=gain, offset_c=offset_c)
