"""An open line as frames: numbers what is sent, decodes what comes, and keeps the gates of accelerated time.

A byte written shuts the gate `PORT>` until the board has handled it; the board shuts `PORT<` for each byte that it
writes, and it opens here once the frames in it are handled. On a real clock gates do nothing.
"""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass

from kettlebridge.drivers.serial_line.codec import FROM_BOARD, Damage, Decoder, encode
from kettlebridge.drivers.serial_line.frames import FromHost, Heard
from kettlebridge.drivers.serial_line.port import Port, open_link
from kettlebridge.model.errors import LinkError, LinkReason
from kettlebridge.ports import Clock, Gate

WAITING_LIMIT = 256
"""Frames kept for whoever handles them; the oldest go first."""


def sequence_numbers() -> Iterator[int]:
    """1, 2, ... 65535, 0, 1, ..."""
    number = 1
    while True:
        yield number
        number = (number + 1) & 0xFFFF


class Ear:
    """Collects the frames that arrive. Bytes count as handled when the next frame is asked for and none is left."""

    def __init__(self, path: str, gate: Gate) -> None:
        self._path = path
        self._gate = gate
        self._decoder = Decoder(FROM_BOARD)
        self._frames: deque[Heard] = deque(maxlen=WAITING_LIMIT)
        self._unhandled_bytes = 0
        self._hung_up = False
        self._news = asyncio.Event()

    @property
    def damage(self) -> Damage:
        """What the line lost."""
        return self._decoder.damage

    def arrived(self, data: bytes) -> None:
        """Takes bytes as they come."""
        self._unhandled_bytes += len(data)
        self._frames.extend(self._decoder.feed(data))
        if self._frames:
            self._news.set()
        else:
            self.settle()

    def hung_up(self) -> None:
        """No more will come."""
        self._hung_up = True
        self._news.set()

    async def frame(self) -> Heard:
        """The next frame. Raises LinkError LOST after the last one of a line that hung up."""
        while not self._frames:
            self.settle()
            if self._hung_up:
                raise LinkError(LinkReason.LOST, f"{self._path} hung up")
            self._news.clear()
            await self._news.wait()
        return self._frames.popleft()

    def all_frames(self) -> tuple[Heard, ...]:
        """Those that wait now."""
        waiting = tuple(self._frames)
        self._frames.clear()
        return waiting

    def settle(self) -> None:
        """Everything that arrived is handled."""
        self._gate.open(self._unhandled_bytes)
        self._unhandled_bytes = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Gates:
    """`out` counts bytes on their way to the board, `port` is shut while the port is being opened or closed."""

    out: Gate
    port: Gate


class Line:
    """Port, ear and sequence numbers of one connection."""

    def __init__(self, port: Port, ear: Ear, gates: Gates, numbers: Iterator[int]) -> None:
        self._port = port
        self._ear = ear
        self._gates = gates
        self._numbers = numbers

    @property
    def damage(self) -> Damage:
        """What the line lost on its way here."""
        return self._ear.damage

    @property
    def flushes(self) -> int:
        """How often unsent bytes were thrown away to write something newer."""
        return self._port.flushes

    def send(self, frame: FromHost) -> int:
        """Writes `frame` in one go and gives its number; never waits. Raises ValueError for a frame out of range."""
        seq = next(self._numbers)
        line = encode(seq, frame)
        self._gates.out.shut(len(line))
        self._gates.out.open(self._port.write(line))
        return seq

    async def frame(self) -> Heard:
        """The next frame that arrives. Raises LinkError LOST when the line hung up."""
        return await self._ear.frame()

    def drain(self) -> tuple[Heard, ...]:
        """All frames that have arrived, those still waiting in the port included."""
        self._ear.arrived(self._port.drain())
        return self._ear.all_frames()

    async def close(self) -> None:
        """Closes the port."""
        self.drain()
        self._ear.settle()
        self._gates.port.shut()
        try:
            await self._port.close()
        finally:
            self._gates.port.open()


async def open_line(path: str, clock: Clock, numbers: Iterator[int]) -> Line:
    """Opens the port, and reads away what waited in it. Raises LinkError NO_PORT or PORT_IN_USE."""
    ear = Ear(path, clock.gate(f"{path}<"))
    gates = Gates(out=clock.gate(f"{path}>"), port=clock.gate(f"{path} port"))
    gates.port.shut()
    try:
        port = await open_link(path, ear.arrived, ear.hung_up)
    finally:
        gates.port.open()
    line = Line(port, ear, gates, numbers)
    line.drain()
    return line
