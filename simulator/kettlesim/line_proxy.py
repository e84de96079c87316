"""A bad cable: passes frames between a host and a board's port, and spoils some of them on the way.

The host opens `LineProxy.port`; the proxy opens the board's. Each of the two ports has its own gates, so what is lost
or doubled in between needs no account: a byte that was read is done with, one that is written is under way again.
"""

from __future__ import annotations

import asyncio
import random
from collections import Counter, deque
from collections.abc import Callable
from dataclasses import dataclass

from kettlesim.wire_serial.clock import Clock
from kettlesim.wire_serial.port import HostEnd, Port

_LONGEST_FRAME = 240


@dataclass(frozen=True, slots=True, kw_only=True)
class Damage:
    """What happens to a frame: fractions from 0 to 1, drawn for each frame and independent of each other.

    `swap` lets the next frame overtake. A delay between `least_delay_s` and `most_delay_s` keeps the order.
    """

    drop: float = 0.0
    truncate: float = 0.0
    flip: float = 0.0
    duplicate: float = 0.0
    swap: float = 0.0
    least_delay_s: float = 0.0
    most_delay_s: float = 0.0


Cut = Callable[[bytes], tuple[list[bytes], bytes]]
"""Cuts what has come so far into whole frames and the rest."""


def lines(data: bytes) -> tuple[list[bytes], bytes]:
    """Frames that end with a line feed."""
    *whole, rest = data.split(b"\n")
    return [line + b"\n" for line in whole], rest


def whole_chunks(data: bytes) -> tuple[list[bytes], bytes]:
    """Frames that are told apart by silence: each comes in one piece."""
    return [data], b""


UNHARMED = Damage()
CUT = Damage(drop=1.0)
"""Nothing passes: the wire of this direction is cut."""


class Lane:
    """One direction. `damage` may be set at any time; `spoilt` counts frames by what happened to them."""

    def __init__(self, clock: Clock, rng: random.Random, write: Callable[[bytes], None], cut: Cut = lines) -> None:
        self.damage = UNHARMED
        self.frames = 0
        self.damaged = 0
        self.spoilt: Counter[str] = Counter()
        self._clock = clock
        self._rng = rng
        self._write = write
        self._cut = cut
        self._held = False
        self._partial = b""
        self._overtaken: list[bytes] = []
        self._queue: deque[tuple[float, bytes]] = deque()
        self._more = asyncio.Event()

    def feed(self, data: bytes) -> None:
        """Bytes as they come in; what has not ended yet waits for the rest of it."""
        whole, self._partial = self._cut(self._partial + data)
        for frame in whole:
            self._pass(frame)
        if len(self._partial) > _LONGEST_FRAME:
            noise, self._partial = self._partial, b""
            self._pass(noise)

    def inject(self, data: bytes) -> None:
        """Somebody else writes on this wire, behind all that waits."""
        self._enqueue(data)

    def hold(self) -> None:
        """From now on nothing leaves, and nothing is lost."""
        self._held = True

    def release(self) -> None:
        """All that was held leaves at once, in order."""
        self._held = False
        now_s = self._clock.now_s()
        self._queue = deque((now_s, frame) for _, frame in self._queue)
        self._more.set()

    async def run(self) -> None:
        """Delivers until cancelled."""
        while True:
            await self._more.wait()
            self._more.clear()
            while self._queue and not self._held:
                due_s = self._queue[0][0]
                if due_s > self._clock.now_s():
                    await self._clock.sleep_until(due_s)
                else:
                    self._write(self._queue.popleft()[1])

    def _pass(self, frame: bytes) -> None:
        """Draws what happens to this frame and lets what is left of it go on."""
        self.frames += 1
        drawn = [fate for fate in _FATES if self._rng.random() < getattr(self.damage, fate)]
        self.spoilt.update(drawn)
        self.damaged += bool(drawn)
        parts = [frame]
        for fate in drawn:
            parts = _FATES[fate](parts, self._rng)
        if "swap" in drawn and not self._overtaken:
            self._overtaken = parts
            return
        parts, self._overtaken = parts + self._overtaken, []
        for part in parts:
            self._enqueue(part)

    def _enqueue(self, data: bytes) -> None:
        delay_s = self._rng.uniform(self.damage.least_delay_s, self.damage.most_delay_s)
        due_s = self._clock.now_s() + delay_s
        if self._queue:
            due_s = max(due_s, self._queue[-1][0])
        self._queue.append((due_s, data))
        self._more.set()


def _dropped(_parts: list[bytes], _rng: random.Random) -> list[bytes]:
    return []


def _truncated(parts: list[bytes], rng: random.Random) -> list[bytes]:
    return [part[: rng.randrange(len(part))] for part in parts]


def _flipped(parts: list[bytes], rng: random.Random) -> list[bytes]:
    return [_with_a_flip(part, rng) for part in parts if part]


def _with_a_flip(part: bytes, rng: random.Random) -> bytes:
    place = rng.randrange(len(part))
    return part[:place] + bytes([part[place] ^ 1 << rng.randrange(8)]) + part[place + 1 :]


def _doubled(parts: list[bytes], _rng: random.Random) -> list[bytes]:
    return parts * 2


def _kept(parts: list[bytes], _rng: random.Random) -> list[bytes]:
    return parts


# In the order in which they happen to one frame; the names are those of `Damage`.
_FATES: dict[str, Callable[[list[bytes], random.Random], list[bytes]]] = {
    "drop": _dropped,
    "truncate": _truncated,
    "flip": _flipped,
    "duplicate": _doubled,
    "swap": _kept,
}


class LineProxy:
    """Stands between a host and the port at `board_port`. The same seed and frames give the same damage."""

    def __init__(self, clock: Clock, board_port: str, *, seed: int, cut: Cut = lines) -> None:
        """Raises OSError when there is no such port."""
        self._board_side = HostEnd(clock, board_port)
        self._host_side = Port(clock)
        self.to_board = Lane(clock, random.Random(f"{seed}>"), self._board_side.write, cut)  # noqa: S311
        self.to_host = Lane(clock, random.Random(f"{seed}<"), self._host_side.write, cut)  # noqa: S311

    @property
    def port(self) -> str:
        """What the host opens in place of the board's."""
        return self._host_side.path

    async def run(self) -> None:
        """Until cancelled; then the host's port is gone and the board's is closed."""
        self._host_side.listen(self.to_board.feed)
        self._board_side.listen(self.to_host.feed)
        try:
            async with asyncio.TaskGroup() as lanes:
                lanes.create_task(self.to_board.run(), name=f"{self.port} to the board")
                lanes.create_task(self.to_host.run(), name=f"{self.port} to the host")
        finally:
            self._host_side.close()
            self._board_side.close()
