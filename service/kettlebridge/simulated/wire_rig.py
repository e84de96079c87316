"""Lays a fault's hands on a simulated board at the end of a real wire, and on the cable that leads there."""

from __future__ import annotations

import asyncio

from kettlebridge.model.kettle import Kettle
from kettlesim.faults.rig import Change
from kettlesim.line_proxy import CUT, UNHARMED, Damage, LineProxy
from kettlesim.wire_serial.fittings import Input
from kettlesim.wire_serial.line import SerialBoard
from kettlesim.wire_serial.pins import Pin
from kettlesim.wire_serial.probes import Probe
from kettlesim.world import World

INPUTS: dict[str, Input] = {
    "level": Input.LEVEL_LOW,
    "flow": Input.FLOW,
    "foam": Input.FOAM,
    "cutout": Input.CUTOUT,
    "stop": Input.STOP,
}
RESTARTS_BY = "brown"
"""The cause that it tells: its supply gave way."""


class WireRig:
    """A rig of `kettlesim.faults`; `run` is board and cable at work."""

    def __init__(self, kettle: Kettle, board: SerialBoard, cable: LineProxy) -> None:
        self._kettle = kettle
        self._board = board
        self._cable = cable

    async def run(self) -> None:
        """Until cancelled; then the ports are gone."""
        async with asyncio.TaskGroup() as group:
            group.create_task(self._board.run(), name="simulated board")
            group.create_task(self._cable.run(), name="simulated cable")

    @property
    def world(self) -> World:
        """The kettle."""
        return self._board.world

    def weld(self, *switches: str) -> None:
        """They stay on, and the pins do not know."""
        self._wire(switches, welded=True)

    def unweld(self, *switches: str) -> None:
        """They follow the pins again."""
        self._wire(switches, welded=False)

    def stick_heater(self) -> None:
        """The pin is on and reads on."""
        self._board.board.stick(Pin.HEATER, True, self._board.now_ms())

    def free_heater(self) -> None:
        """The pin follows again."""
        self._board.board.stick(Pin.HEATER, None, self._board.now_ms())

    def press(self, name: str) -> None:
        """The input is on."""
        self._board.wiring.stuck[INPUTS[name]] = True

    def release(self, name: str) -> None:
        """The input is as it is."""
        self._board.wiring.stuck.pop(INPUTS[name], None)

    def probe(self, role: str, change: Change) -> None:
        """What the bus gives for that probe."""
        began_ms = self._board.now_ms()

        def told(read_c: float) -> float | None:
            return change(read_c, (self._board.now_ms() - began_ms) / 1000)

        self._of(role).change = told

    def sound_probe(self, role: str) -> None:
        """The bus gives what it reads."""
        self._of(role).change = None

    def unlink(self) -> None:
        """The cable is out: the board goes on by its lease."""
        self._damage(CUT)

    def link(self) -> None:
        """The cable is in, and firmly."""
        self._damage(UNHARMED)

    def loosen(self, lost_fraction: float) -> None:
        """The cable is half in."""
        self._damage(Damage(drop=lost_fraction))

    def restart_board(self) -> None:
        """Pins fall, all is forgotten, a new boot number is drawn."""
        self._board.reboot(RESTARTS_BY)

    def _wire(self, switches: tuple[str, ...], *, welded: bool) -> None:
        wiring = self._board.wiring
        wiring.heater_welded = welded if "heater" in switches else wiring.heater_welded
        wiring.contactor_welded = welded if "contactor" in switches else wiring.contactor_welded
        wiring.pump_welded = welded if "pump" in switches else wiring.pump_welded

    def _of(self, role: str) -> Probe:
        named = next(str(probe.name) for probe in self._kettle.probes if probe.role.value == role)
        return next(probe for probe in self._board.board.bus.probes if probe.name == named)

    def _damage(self, damage: Damage) -> None:
        self._cable.to_board.damage = self._cable.to_host.damage = damage
