"""Modules on a Modbus line."""

from __future__ import annotations

from kettlebridge.bridges.fitting import Driver, Fitting
from kettlebridge.drivers.modbus.link import ModbusLine
from kettlebridge.drivers.modbus.settings import ModbusSettings
from kettlebridge.drivers.modbus.switching_off import switch_off
from kettlebridge.files.modbus_bridge import ModbusBridge
from kettlebridge.model.kettle import HeaterDrive


def settings(bridge: ModbusBridge, fitting: Fitting) -> ModbusSettings:
    """By the kettle file."""
    return ModbusSettings(
        port=bridge.port,
        map=bridge.map,
        lease_s=fitting.kettle.safety.lease_s,
        bursts=fitting.kettle.drive is HeaterDrive.SSR,
        require_simulated=fitting.require_simulated,
    )


DRIVER = Driver(settings=settings, bridge=ModbusLine, switch_off=switch_off)
