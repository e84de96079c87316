"""A host of the fewest words, on an accelerated clock: claims, then demands the same thing once a second."""

from __future__ import annotations

import asyncio
import contextlib
from collections import Counter
from collections.abc import AsyncIterator

from kettlebridge.runtime.clock import PacedClock
from kettlesim.plant.body import Body
from kettlesim.wire_serial.line import ACCELERATED, Pace, SerialBoard, board_in
from kettlesim.wire_serial.port import HostEnd
from kettlesim.world import AddWater, World
from tests.simulator_wire.bench import FRAME, Frame, read, sealed


class Host:
    """`heard` are the board's frames with the time at which they came in; `garbled` counts what was none."""

    def __init__(self, clock: PacedClock, port: str) -> None:
        self.clock = clock
        self.end = HostEnd(clock, port)
        self.heard: list[tuple[float, Frame]] = []
        self.garbled = 0
        self.sid = ""
        self.up = "0"
        self.seq = 0
        self._partial = b""
        self.end.listen(self._read)

    def say(self, text: str) -> None:
        """One frame."""
        self.seq = (self.seq + 1) % 65536
        self.end.write(sealed(f"{self.seq} {text}"))

    async def wait(self, for_s: float) -> None:
        """Lets time pass."""
        await self.clock.sleep_until(self.clock.now_s() + for_s)

    async def claim(self) -> None:
        """Asks who is there and claims it."""
        self.say("Q v=1")
        await self.wait(1.0)
        self.say(f"C v=1 boot={self.newest('B').values['boot']}")
        await self.wait(0.5)

    def demand(self, *, h: int = 0, p: int = 0, k: int = 0) -> None:
        """Acts on the newest report."""
        self.say(f"O s={self.sid} e={self.up} ttl=3000 h={h} p={p} k={k} z=0")

    async def heat(self, for_s: int, h: int = 1000) -> None:
        """The contactor first; then heat, renewed every second."""
        self.demand(k=1)
        await self.wait(0.6)
        for _ in range(for_s):
            self.demand(h=h, k=1)
            await self.wait(1.0)

    def newest(self, kind: str) -> Frame:
        """The newest frame of that kind."""
        return next(frame for _, frame in reversed(self.heard) if frame.kind == kind)

    def kinds(self) -> Counter[str]:
        """How many of each kind, refusals with their reason."""
        return Counter(frame.kind + frame.values.get("why", "") for _, frame in self.heard)

    def _read(self, data: bytes) -> None:
        *lines, self._partial = (self._partial + data).split(b"\n")
        for line in lines:
            if FRAME.fullmatch(line + b"\n") is None:
                self.garbled += 1
                continue
            try:
                frame = read(line + b"\n")
            except AssertionError:
                self.garbled += 1
                continue
            self.heard.append((self.clock.now_s(), frame))
            self.sid = frame.values.get("sid", self.sid)
            self.up = frame.values["up"] if frame.kind == "T" else self.up


def kettle(clock: PacedClock, *, water_c: float = 15.0, pace: Pace = ACCELERATED) -> SerialBoard:
    """A 30 L kettle of 3 kW with 25 L of water in it, and its board."""
    world = World(Body.from_figures(capacity_l=30, heater_w=3000), seed=1, probe_offset_c=0.0)
    world.act(AddWater(25.0, water_c))
    return SerialBoard(clock, world, board_in(world), pace=pace)


@contextlib.asynccontextmanager
async def running(*parts: SerialBoard) -> AsyncIterator[None]:
    """Within it the boards run."""
    tasks = [asyncio.create_task(part.run(), name=part.port) for part in parts]
    try:
        yield
    finally:
        for task in tasks:
            task.cancel()
        await asyncio.wait(tasks)
