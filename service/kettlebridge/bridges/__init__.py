"""From a kettle file to its bridge: the one place that knows every driver. Another kind of board is a row and a module.

A module, and with it the library of its driver, is loaded when the first kettle names it: a service on a serial line
carries neither Modbus nor MQTT.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any

from kettlebridge.bridges.fitting import Driver, Fitting
from kettlebridge.files.kettle_file import Board, KettleFile, SerialLineBridge
from kettlebridge.files.modbus_bridge import ModbusBridge
from kettlebridge.files.mqtt_bridge import MqttBridge
from kettlebridge.ports import Bridge, Clock
from kettlebridge.runtime.several_bridges import Part, SeveralBridges

BridgeFactory = Callable[[KettleFile, Clock], Bridge]

BRIDGES: Mapping[type, str] = {
    SerialLineBridge: "kettlebridge.bridges.serial_line",
    ModbusBridge: "kettlebridge.bridges.modbus",
    MqttBridge: "kettlebridge.bridges.mqtt",
}
"""By the kind of `[bridge]`: the module whose DRIVER makes it."""


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
    driver: Driver = import_module(BRIDGES[type(board.bridge)]).DRIVER
    return driver


async def switch_off(file: KettleFile, board: Board, clock: Clock) -> None:
    """Every output of one board of a kettle off, whoever has it. Raises LinkError where that is not certain."""
    await _driver(board).switch_off(_settings(file, board, require_simulated=False), clock)
