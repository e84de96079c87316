"""From a kettle file to its bridge: the one place that knows every driver. Another kind of board is one row."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass
from typing import Any

from kettlebridge.drivers.modbus.link import ModbusLine
from kettlebridge.drivers.modbus.settings import ModbusSettings
from kettlebridge.drivers.modbus.switching_off import switch_off as modbus_off
from kettlebridge.drivers.mqtt.link import MqttNodes
from kettlebridge.drivers.mqtt.settings import MqttSettings
from kettlebridge.drivers.mqtt.switching_off import switch_off as mqtt_off
from kettlebridge.drivers.serial_line.link import SerialLine
from kettlebridge.drivers.serial_line.settings import SerialLineSettings
from kettlebridge.drivers.serial_line.switching_off import switch_off as serial_line_off
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
    require_simulated: bool


def _serial_line(bridge: SerialLineBridge, fitting: Fitting) -> SerialLineSettings:
    return SerialLineSettings(
        port=bridge.port,
        board_id=bridge.board_id,
        lease_s=fitting.kettle.safety.lease_s,
        probes={probe.source: probe.name for probe in fitting.board.probes},
        require_simulated=fitting.require_simulated,
    )


def _modbus(bridge: ModbusBridge, fitting: Fitting) -> ModbusSettings:
    return ModbusSettings(
        port=bridge.port,
        map=bridge.map,
        lease_s=fitting.kettle.safety.lease_s,
        bursts=fitting.kettle.drive is HeaterDrive.SSR,
        require_simulated=fitting.require_simulated,
    )


def _mqtt(bridge: MqttBridge, fitting: Fitting) -> MqttSettings:
    return MqttSettings(
        broker=bridge.broker,
        client_id=bridge.client_id,
        lease_s=fitting.kettle.safety.lease_s,
        probes=bridge.probes,
        relays=bridge.relays,
        require_simulated=fitting.require_simulated,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Driver:
    """A kind of bridge: `settings` out of a kettle file, the bridge they make, and "all off" without one."""

    settings: Callable[[Any, Fitting], Any]
    bridge: Callable[[Any, Clock], Bridge]
    switch_off: Callable[[Any, Clock], Awaitable[None]]


BRIDGES: Mapping[type, Driver] = {
    SerialLineBridge: Driver(settings=_serial_line, bridge=SerialLine, switch_off=serial_line_off),
    ModbusBridge: Driver(settings=_modbus, bridge=ModbusLine, switch_off=modbus_off),
    MqttBridge: Driver(settings=_mqtt, bridge=MqttNodes, switch_off=mqtt_off),
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
            bridge=_driver(board).bridge(_settings(file, board, require_simulated=require_simulated), clock),
            probes=tuple(probe.name for probe in board.probes),
            outputs=board.outputs,
            inputs=board.inputs,
        )
        for board in file.boards
    ]
    return parts[0].bridge if len(parts) == 1 else SeveralBridges(parts, clock)


def _settings(file: KettleFile, board: Board, *, require_simulated: bool) -> Any:
    fitting = Fitting(kettle=file.kettle, board=board, require_simulated=require_simulated)
    return _driver(board).settings(board.bridge, fitting)


def _driver(board: Board) -> Driver:
    return BRIDGES[type(board.bridge)]


async def switch_off(file: KettleFile, board: Board, clock: Clock) -> None:
    """Every output of one board of a kettle off, whoever has it. Raises LinkError where that is not certain."""
    await _driver(board).switch_off(_settings(file, board, require_simulated=False), clock)
