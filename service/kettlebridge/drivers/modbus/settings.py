"""What a kettle file says of its Modbus line."""

from __future__ import annotations

from dataclasses import dataclass

from kettlebridge.model.modbus_map import ModbusMap


@dataclass(frozen=True, slots=True, kw_only=True)
class ModbusSettings:
    """`lease_s` is the longest time for which a relay is ever switched on.

    `bursts`: the heater's per mille become bursts within each second, made of timed-on writes; without it only 0 and
    1000 can be done. `require_simulated` refuses modules that do not say they are simulated.
    """

    port: str
    map: ModbusMap
    lease_s: float
    bursts: bool
    require_simulated: bool
