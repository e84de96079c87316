"""Boards for a kettle file, whatever kind of wire it names: one row for each kind."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Coroutine, Mapping
from dataclasses import dataclass, replace
from typing import Any

from kettlebridge.files.kettle_file import Board, KettleFile, SerialLineBridge
from kettlebridge.files.modbus_bridge import ModbusBridge
from kettlebridge.files.mqtt_bridge import MqttBridge
from kettlebridge.files.rom_id import crc8
from kettlebridge.model.modbus_map import Parity
from kettlebridge.model.mqtt import Broker
from kettlebridge.ports import Clock
from kettlebridge.simulated.board import simulated_board, wired_to
from kettlebridge.simulated.modbus import over_modbus, simulated_modules
from kettlebridge.simulated.nodes import over_mqtt, simulated_nodes
from kettlebridge.simulated.wire_rig import WireRig
from kettlesim.line_proxy import LineProxy
from kettlesim.wire_serial.line import ACCELERATED
from kettlesim.world import World

ROM_FAMILY = 0x28
BOARD_ID = "51A0"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wire:
    """A board at work while `run` is; `file` is the kettle file that leads there."""

    file: KettleFile
    run: Callable[[], Coroutine[Any, Any, None]]


def _serial(file: KettleFile, clock: Clock, world: World, seed: int) -> Wire:
    board = simulated_board(file, clock, world, seed=seed)
    return Wire(file=wired_to(board, file), run=board.run)


def _modbus(file: KettleFile, clock: Clock, world: World, _seed: int) -> Wire:
    bridge = file.bridge
    assert isinstance(bridge, ModbusBridge), "told apart by its type"  # noqa: S101 - for the type checker
    line = simulated_modules(bridge.map, {probe.name: probe for probe in file.kettle.probes}, clock, world, ACCELERATED)
    characters = replace(bridge.map, parity=Parity.NONE, stop_bits=1)  # all that a pseudo-terminal takes
    return Wire(file=replace(file, bridge=replace(bridge, port=line.port, map=characters)), run=line.run)


def _mqtt(file: KettleFile, clock: Clock, world: World, _seed: int) -> Wire:
    return Wire(file=file, run=simulated_nodes(file, clock, world).run)


SIMULATED: Mapping[type, Callable[[KettleFile, Clock, World, int], Wire]] = {
    SerialLineBridge: _serial,
    ModbusBridge: _modbus,
    MqttBridge: _mqtt,
}
"""By the kind of `[bridge]`."""


def over_serial(file: KettleFile) -> KettleFile:
    """The kettle on a board of the line protocol, whatever its file says."""
    if isinstance(file.bridge, SerialLineBridge) and not file.also:
        return file
    probes = tuple(replace(probe, source=_rom_id(number)) for number, probe in enumerate(file.kettle.probes, start=1))
    bridge = SerialLineBridge(port="", board_id=BOARD_ID)
    return replace(file, bridge=bridge, also=(), kettle=replace(file.kettle, probes=probes))


REWIRED: Mapping[str, Callable[[KettleFile, Broker | None], KettleFile]] = {
    "serial": lambda file, _: over_serial(file),
    "modbus": lambda file, _: over_modbus(file),
    "mqtt": over_mqtt,
}
"""By the word for a kind of bridge: the same kettle on that. MQTT needs a broker."""


def simulated(file: KettleFile, clock: Clock, world: World, *, seed: int) -> Wire:
    """Boards that answer as the file's own would, in accelerated time. Boards beside the first share its kettle."""
    wires = [_one(file, board, clock, world, seed) for board in file.boards]
    also = tuple(replace(board, bridge=wire.file.bridge) for board, wire in zip(file.also, wires[1:], strict=True))

    async def run() -> None:
        async with asyncio.TaskGroup() as group:
            for wire in wires:
                group.create_task(wire.run(), name="simulated board")

    whole = replace(wires[0].file, kettle=file.kettle, also=also)
    return wires[0] if len(wires) == 1 else Wire(file=whole, run=run)


def has_rig(file: KettleFile) -> bool:
    """Whether faults can be laid on its board: one board, on a serial line."""
    return isinstance(file.bridge, SerialLineBridge) and not file.also


def rigged(file: KettleFile, clock: Clock, world: World, *, seed: int) -> tuple[Wire, WireRig]:
    """As `simulated`, of a kettle that `has_rig`: with a cable before the board, and hands on both."""
    board = simulated_board(file, clock, world, seed=seed)
    cable = LineProxy(clock, board.port, seed=seed)
    rig = WireRig(file.kettle, board, cable)
    return Wire(file=wired_to(cable, file), run=rig.run), rig


def _one(file: KettleFile, board: Board, clock: Clock, world: World, seed: int) -> Wire:
    kettle = replace(file.kettle, probes=board.probes, inputs=board.inputs)
    return SIMULATED[type(board.bridge)](replace(file, bridge=board.bridge, also=(), kettle=kettle), clock, world, seed)


def _rom_id(number: int) -> str:
    body = bytes([ROM_FAMILY, *number.to_bytes(6, "little")])
    return (body + bytes([crc8(body)])).hex().upper()
