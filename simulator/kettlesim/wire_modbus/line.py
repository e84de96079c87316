"""Modules and their kettle on a real wire: bytes through a pseudo-terminal at the speed of the line."""

from __future__ import annotations

import asyncio
import math
from collections.abc import Iterable

from kettlesim.wire_modbus.cells import Relay
from kettlesim.wire_modbus.frames import Request, heard
from kettlesim.wire_modbus.module import Module
from kettlesim.wire_serial.clock import Clock
from kettlesim.wire_serial.line import REAL_TIME, Pace
from kettlesim.wire_serial.pins import Pin, Pins
from kettlesim.wire_serial.port import Port
from kettlesim.world import Act, Outputs, World

_CHARACTER_BITS = 11
_SILENT_CHARACTERS = 3.5
_TURNAROUND_MS = 5
_HOT_C = 85.0


class ModbusLine:
    """Runs freshly made modules. `port` is the path that a host opens; time starts here, at 0 ms.

    `relays` are those of all modules, behind `pins`. `collisions` counts requests that came while an answer was on
    the line: nobody understands those. A line without relays leaves the kettle's time to whoever has them.
    """

    def __init__(self, clock: Clock, world: World, *, baud: int = 9600, pace: Pace = REAL_TIME) -> None:
        self.world = world
        self.pins = Pins()
        self.relays: list[Relay] = []
        self.modules: dict[int, Module] = {}
        self.pressed: set[str] = set()
        self.collisions = 0
        self._clock = clock
        self._pace = pace
        self._byte_ms = 1000 * _CHARACTER_BITS / baud
        self._port = Port(clock)
        self._start_s = clock.now_s()
        self._world_ms = 0
        self._heater_on_ms = 0
        self._heard = b""
        self._heard_ms = 0
        self._busy_until_ms = 0
        self._errands = asyncio.TaskGroup()

    @property
    def port(self) -> str:
        """The path of the pseudo-terminal."""
        return self._port.path

    def add(self, modules: Iterable[Module], relays: Iterable[Relay]) -> None:
        """Puts modules on the line."""
        self.modules.update((module.unit, module) for module in modules)
        self.relays.extend(relays)

    def now_ms(self) -> int:
        """Since this line was made."""
        return int((self._clock.now_s() - self._start_s) * 1000 + 0.001)  # a deadline may fall short by rounding

    async def run(self) -> None:
        """Until cancelled; then the port is gone."""
        self._port.listen(self._arrived)
        try:
            async with self._errands:
                while True:
                    await self._sleep_until(self._next_ms())
                    self.look()
        finally:
            self._port.close()

    def look(self) -> None:
        """Brings relays and world up to now, each relay whose time ended at its own time."""
        now_ms = self.now_ms()
        for relay in sorted(self.relays, key=lambda relay: relay.off_ms or 0):
            if relay.off_ms is not None and relay.off_ms <= now_ms:
                if relay.pin is not Pin.HEATER:
                    self._advance_world(relay.off_ms)
                relay.end(now_ms)
        self._advance_world(now_ms)

    def act(self, act: Act) -> None:
        """The brewer does something now. Raises ValueError where it makes no sense."""
        self.look()
        self.world.act(act)

    def says(self, name: str) -> bool:
        """The level of an input: `foam`, `level` and `flow` are the kettle's, all others those in `pressed`."""
        said = self.world.inputs_now()
        levels = {"foam": said.foam, "level": said.level_low, "flow": said.flow}
        return levels.get(name, False) or name in self.pressed

    async def _sleep_until(self, when_ms: int) -> None:
        await self._clock.sleep_until(self._start_s + when_ms / 1000)

    def _next_ms(self) -> int:
        hot = self.world.plant.heat.bottom_c > _HOT_C
        next_ms = self._world_ms + (self._pace.hot_step_ms if hot else self._pace.cool_step_ms)
        ends_ms = [
            relay.off_ms
            for relay in self.relays
            if relay.off_ms is not None and (self._pace.pin_edges or relay.pin is not Pin.HEATER)
        ]
        return min(next_ms, *ends_ms) if ends_ms else next_ms

    def _advance_world(self, at_ms: int) -> None:
        for_ms = at_ms - self._world_ms
        if for_ms <= 0:
            return
        if not self.relays:
            self._world_ms = at_ms
            return
        on_ms = self.pins.heater_on_ms(at_ms)
        outputs = Outputs(
            heater_fraction=min(1.0, max(0.0, (on_ms - self._heater_on_ms) / for_ms)),
            main_contactor_closed=self.pins.is_on(Pin.CONTACTOR),
            pump_on=self.pins.is_on(Pin.PUMP),
        )
        self.world.advance(outputs, for_ms / 1000)
        self._world_ms, self._heater_on_ms = at_ms, on_ms

    def _arrived(self, data: bytes) -> None:
        """Bytes that a host wrote; a silence before them begins a new frame."""
        now_ms = self.now_ms()
        if now_ms < self._busy_until_ms:
            self.collisions += 1
            self._heard = b""
            return
        if now_ms - self._heard_ms > _SILENT_CHARACTERS * self._byte_ms:
            self._heard = b""
        self._heard += data
        self._heard_ms = now_ms
        request = heard(self._heard)
        if request is not None:
            self._busy_until_ms = now_ms + math.ceil(len(self._heard) * self._byte_ms)
            self._heard = b""
            self._errands.create_task(self._answer(request), name=f"{self.port} answers")

    async def _answer(self, request: Request) -> None:
        """Does it when its last bit has passed the wire; the answer is complete when its own last bit has."""
        done_ms = self._busy_until_ms
        await self._sleep_until(done_ms)
        self.look()
        module = self.modules.get(request.unit)
        answer = None if module is None else module.answer(request, done_ms)
        if answer is None:
            return
        self._busy_until_ms = done_ms + _TURNAROUND_MS + math.ceil(len(answer) * self._byte_ms)
        await self._sleep_until(self._busy_until_ms)
        self._port.write(answer)
