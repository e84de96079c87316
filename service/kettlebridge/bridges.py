"""From a kettle file to its bridge: the one place that knows every driver. Another kind of board is one row."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from kettlebridge.drivers.modbus.link import ModbusLine
from kettlebridge.drivers.modbus.settings import ModbusSettings
from kettlebridge.drivers.mqtt.link import MqttNodes
from kettlebridge.drivers.mqtt.settings import MqttSettings
from kettlebridge.drivers.serial_line.link import SerialLine
from kettlebridge.drivers.serial_line.settings import SerialLineSettings
from kettlebridge.files.kettle_file import Board, KettleFile, SerialLineBridge
from kettlebridge.files.modbus_bridge import ModbusBridge
from kettlebridge.files.mqtt_bridge import MqttBridge
from kettlebridge.model.kettle import HeaterDrive, Kettle
from kettlebridge.ports import Bridge, Clock
from kettlebridge.runtime.several_bridges import Part, SeveralBridges

BridgeFactory = Callable[[KettleFile, Clock], Bridge]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitting:
    """What a driver is made for. `require_simulated` refuses a board that does not say it is simulated."""

    kettle: Kettle
    board: Board
    clock: Clock
    require_simulated: bool


def _serial_line(bridge: SerialLineBridge, fitting: Fitting) -> Bridge:
    settings = SerialLineSettings(
        port=bridge.port,
        board_id=bridge.board_id,
        lease_s=fitting.kettle.safety.lease_s,
        probes={probe.source: probe.name for probe in fitting.board.probes},
        require_simulated=fitting.require_simulated,
    )
    return SerialLine(settings, fitting.clock)


def _modbus(bridge: ModbusBridge, fitting: Fitting) -> Bridge:
    settings = ModbusSettings(
        port=bridge.port,
        map=bridge.map,
        lease_s=fitting.kettle.safety.lease_s,
        bursts=fitting.kettle.drive is HeaterDrive.SSR,
        require_simulated=fitting.require_simulated,
    )
    return ModbusLine(settings, fitting.clock)


def _mqtt(bridge: MqttBridge, fitting: Fitting) -> Bridge:
    settings = MqttSettings(
        broker=bridge.broker,
        client_id=bridge.client_id,
        lease_s=fitting.kettle.safety.lease_s,
        probes=bridge.probes,
        relays=bridge.relays,
        require_simulated=fitting.require_simulated,
    )
    return MqttNodes(settings, fitting.clock)


BRIDGES: Mapping[type, Callable[[Any, Fitting], Bridge]] = {
    SerialLineBridge: _serial_line,
    ModbusBridge: _modbus,
    MqttBridge: _mqtt,
}
"""By the kind of `[bridge]`."""


def bridge_of(file: KettleFile, clock: Clock) -> Bridge:
    """The bridge that the kettle file names, or all of them as one."""
    return _bridge(file, clock, require_simulated=False)


def bridge_to_simulated(file: KettleFile, clock: Clock) -> Bridge:
    """The same, for boards that say they are simulated and for no others."""
    return _bridge(file, clock, require_simulated=True)


def _bridge(file: KettleFile, clock: Clock, *, require_simulated: bool) -> Bridge:
    parts = [
        Part(
            name=board.name or "bridge",
            bridge=BRIDGES[type(board.bridge)](
                board.bridge,
                Fitting(kettle=file.kettle, board=board, clock=clock, require_simulated=require_simulated),
            ),
            probes=tuple(probe.name for probe in board.probes),
            outputs=board.outputs,
            inputs=board.inputs,
        )
        for board in file.boards
    ]
    return parts[0].bridge if len(parts) == 1 else SeveralBridges(parts, clock)
