"""Off-the-shelf modules on an RS-485 line, Modbus RTU: temperatures, relays with a lease of their own, inputs."""

from __future__ import annotations

from kettlebridge.drivers.modbus.link import ModbusLine
from kettlebridge.drivers.modbus.settings import ModbusSettings

__all__ = ["ModbusLine", "ModbusSettings"]
