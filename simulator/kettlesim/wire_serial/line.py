"""A board and its kettle on a real wire: bytes through a pseudo-terminal at the speed of the line."""

from __future__ import annotations

import asyncio
import math
from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass

from kettlesim.wire_serial.board import VirtualBoard
from kettlesim.wire_serial.clock import Clock
from kettlesim.wire_serial.fittings import NO_INPUT, Fittings, Input
from kettlesim.wire_serial.pins import Pin
from kettlesim.wire_serial.port import Port
from kettlesim.wire_serial.probes import Probe, ProbeBus
from kettlesim.world import Act, Outputs, World

BYTE_MS = 10 * 1000 / 38400
"""8N1 puts ten bits on the wire for each byte."""

_RECEIVE_BACKLOG_MS = 17_000  # as long as 64 KiB take; what a host writes beyond is lost
_SEND_BACKLOG_MS = 1_000  # a frame that would wait longer is not sent
_LOAD_SEEN_MS = 1_000  # load sense looks at a whole window of bursts


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """How finely to look at the world.

    Every `cool_step_ms`, every `hot_step_ms` when it is hot enough to foam, at each edge of a burst if `pin_edges`.
    """

    cool_step_ms: int
    hot_step_ms: int
    pin_edges: bool


REAL_TIME = Pace(cool_step_ms=100, hot_step_ms=100, pin_edges=True)
ACCELERATED = Pace(cool_step_ms=500, hot_step_ms=100, pin_edges=False)
"""The heat of a burst is exact here too; it only reaches the world in larger portions."""

_HOT_C = 85.0
"""Far below the boil of any kettle in the mountains where people brew: without boiling, nothing foams up fast."""


@dataclass(slots=True, kw_only=True)
class Wiring:
    """Faults between a pin and its load, and at the inputs: those in `stuck` keep their level."""

    heater_welded: bool = False
    contactor_welded: bool = False
    pump_welded: bool = False
    stuck: dict[Input, bool]


def board_in(
    world: World, *, fittings: Fittings | None = None, probes: Iterable[Probe] | None = None, seed: int = 0
) -> VirtualBoard:
    """A board whose probes hang in that kettle; by default one for control and one in the return."""
    hung = (Probe("control", "28A1B2C3040506B4"), Probe("return", "28D4E5F6070809E6")) if probes is None else probes
    return VirtualBoard(fittings or Fittings(), ProbeBus(tuple(hung), world.reading_c), seed=seed)


class SerialBoard:
    """Runs a freshly made board. `port` is the path that a host opens; the board's clock starts here, at 0 ms.

    Set faults through `board`, `world` and `wiring` at any time; the next look, or `touch`, honours them.
    """

    def __init__(self, clock: Clock, world: World, board: VirtualBoard, *, pace: Pace = REAL_TIME) -> None:
        self.world = world
        self.board = board
        self.wiring = Wiring(stuck={})
        self._clock = clock
        self._pace = pace
        self._port = Port(clock)
        self._start_s = clock.now_s()
        self._world_ms = 0
        self._heater_on_ms = 0
        self._load_until_ms = 0
        self._pressed_until_ms: dict[Input, int] = {}
        self._received: deque[tuple[int, bytes]] = deque()
        self._receiving_until_ms = 0.0
        self._sending: deque[tuple[int, bytes]] = deque()
        self._sending_until_ms = 0.0
        self._wakes_ms: list[int] = []
        self._errands = asyncio.TaskGroup()

    @property
    def port(self) -> str:
        """The path of the pseudo-terminal."""
        return self._port.path

    def now_ms(self) -> int:
        """The board's supply clock."""
        return int((self._clock.now_s() - self._start_s) * 1000 + 0.001)  # a deadline may fall short by rounding

    async def run(self) -> None:
        """Until cancelled; then the port is gone."""
        self._port.listen(self._arrived)
        try:
            async with self._errands:
                while True:
                    await self._look_at(self._next_wake_ms())
        finally:
            self._port.close()

    def look(self) -> None:
        """Brings world and board up to now, each thing that fell due at its own time."""
        now_ms = self.now_ms()
        while (at_ms := self._next_ms()) <= now_ms:
            self._reach(at_ms)
            while self._received and self._received[0][0] <= at_ms:
                self._send(self.board.receive(self._received.popleft()[1], at_ms), at_ms)
        while self._sending and self._sending[0][0] <= now_ms:
            self._port.write(self._sending.popleft()[1])

    def act(self, act: Act) -> None:
        """The brewer does something now. Raises ValueError where it makes no sense."""
        self.look()
        self.world.act(act)
        self.touch()

    def press(self, button: Input, for_ms: int = 300) -> None:
        """Somebody presses a button of the board and lets go again."""
        self._pressed_until_ms[button] = self.now_ms() + for_ms
        self.touch()

    def reboot(self, cause: str) -> None:
        """Resets the board now; switches it on if it was off."""
        self.look()
        self.board.reboot(cause, self.now_ms())
        self.touch()

    def touch(self) -> None:
        """After a change from outside: the board notices now and not at the next look."""
        self.look()
        self._reach(self.now_ms())
        if self._wakes_ms:
            self._errands.create_task(self._attend(), name=f"{self.port} attends")

    def _next_ms(self) -> int:
        """When world or board must be looked at."""
        hot = self.world.plant.heat.bottom_c > _HOT_C
        next_ms = self._world_ms + (self._pace.hot_step_ms if hot else self._pace.cool_step_ms)
        due_ms = self.board.next_due_ms(pin_edges=self._pace.pin_edges)
        if due_ms is not None and due_ms < next_ms:
            next_ms = due_ms
        if self._received and self._received[0][0] < next_ms:
            next_ms = self._received[0][0]
        return min(next_ms, *self._pressed_until_ms.values()) if self._pressed_until_ms else next_ms

    def _next_wake_ms(self) -> int:
        """When anything must be looked at, frames on their way out included."""
        next_ms = self._next_ms()
        return min(next_ms, self._sending[0][0]) if self._sending else next_ms

    async def _look_at(self, when_ms: int) -> None:
        self._wakes_ms.append(when_ms)
        try:
            await self._clock.sleep_until(self._start_s + when_ms / 1000)
        finally:
            self._wakes_ms.remove(when_ms)
        self.look()

    async def _attend(self) -> None:
        """Looks as long as something falls due before anybody else wakes up to look."""
        while (when_ms := self._next_wake_ms()) < min(self._wakes_ms):
            await self._look_at(when_ms)

    def _arrived(self, data: bytes) -> None:
        """Bytes that a host wrote: each frame of them reaches the board when its last bit has passed the wire."""
        now_ms = self.now_ms()
        for line in data.splitlines(keepends=True):
            end_ms = max(float(now_ms), self._receiving_until_ms) + len(line) * BYTE_MS
            if end_ms - now_ms <= _RECEIVE_BACKLOG_MS:
                self._receiving_until_ms = end_ms
                self._received.append((math.ceil(end_ms), line))
        self._errands.create_task(self._attend(), name=f"{self.port} attends")

    def _reach(self, at_ms: int) -> None:
        """World, inputs and board at `at_ms`, before anything that comes in then."""
        self._advance_world(at_ms)
        self.board.set_inputs(self._inputs(at_ms), at_ms)
        self._send(self.board.poll(at_ms), at_ms)

    def _advance_world(self, at_ms: int) -> None:
        for_ms = at_ms - self._world_ms
        if for_ms <= 0:
            return
        pins, wiring = self.board.outputs.pins, self.wiring
        heater_on_ms = self.board.heater_on_ms(at_ms)
        fraction = 1.0 if wiring.heater_welded else (heater_on_ms - self._heater_on_ms) / for_ms
        outputs = Outputs(
            heater_fraction=fraction,
            main_contactor_closed=wiring.contactor_welded or pins.is_on(Pin.CONTACTOR),
            pump_on=wiring.pump_welded or pins.is_on(Pin.PUMP),
        )
        self.world.advance(outputs, for_ms / 1000)
        self._world_ms, self._heater_on_ms = at_ms, heater_on_ms
        powered = self.world.mains_fraction > 0 and not self.world.element_open
        if fraction > 0 and outputs.main_contactor_closed and powered:
            self._load_until_ms = at_ms + _LOAD_SEEN_MS

    def _inputs(self, at_ms: int) -> Input:
        said = self.world.inputs_now()
        pressed = {button: until_ms for button, until_ms in self._pressed_until_ms.items() if at_ms < until_ms}
        self._pressed_until_ms = pressed
        levels = {
            Input.LEVEL_LOW: said.level_low,
            Input.FLOW: said.flow,
            Input.FOAM: said.foam,
            Input.LOAD: at_ms < self._load_until_ms,
            **dict.fromkeys(pressed, True),
            **self.wiring.stuck,
        }
        inputs = NO_INPUT
        for place, level in levels.items():
            if level:
                inputs |= place
        return inputs

    def _send(self, frames: list[bytes], at_ms: int) -> None:
        for frame in frames:
            end_ms = max(float(at_ms), self._sending_until_ms) + len(frame) * BYTE_MS
            if end_ms - at_ms <= _SEND_BACKLOG_MS:
                self._sending_until_ms = end_ms
                self._sending.append((math.ceil(end_ms), frame))
