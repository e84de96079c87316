"""The Clock port twice: the real one, and one that moves by itself over real wires.

The law of `PacedClock`: real I/O first; virtual time moves only while nothing is ready, no gate is shut and somebody
sleeps; it moves to the earliest deadline and wakes that one sleeper. Equal deadlines wake in the order of asking, each
after everything that follows from the one before. `loop.time()` stays real: time-outs of libraries mean what they say.
"""

from __future__ import annotations

import asyncio
import heapq
import math
import selectors
import time
from collections.abc import Awaitable, Callable, Mapping
from typing import TYPE_CHECKING, TypeVar

from kettlebridge.model.errors import KettlebridgeError
from kettlebridge.runtime.clock_sync import wall_clock_synchronised

if TYPE_CHECKING:
    from _typeshed import FileDescriptorLike

    from kettlebridge.ports import Gate

T = TypeVar("T")

CHUNK_S = 0.5
"""The longest single sleep of the real clock: the loop's timers stand still while the machine is suspended."""

GATE_LIMIT_S = 2.0
"""Real seconds after which a gate without progress is a bug and no longer a wait."""

SLACK_S = 0.05
"""Real seconds of lateness that `speed` may make up for: the coarseness of the selector's timers, nothing more."""


class GateStuckError(KettlebridgeError):
    """Work counted by a gate was never finished."""


class OpenGate:
    """The gate of a real clock, which waits for nobody."""

    def shut(self, count: int = 1) -> None:
        """Does nothing."""

    def open(self, count: int = 1) -> None:
        """Does nothing."""


class RealClock:
    """Boot time and wall time of this machine."""

    def __init__(self) -> None:
        self._gate = OpenGate()

    def now_s(self) -> float:
        """Seconds since the machine booted, those suspended included."""
        return time.clock_gettime(time.CLOCK_BOOTTIME)

    def at_utc_s(self) -> float:
        """Wall time, seconds since 1970-01-01T00:00Z."""
        return time.time()

    def synchronised(self) -> bool:
        """By the system's own word."""
        return wall_clock_synchronised()

    async def sleep_until(self, when_s: float) -> None:
        """Returns once `now_s() >= when_s`, after a suspend at most `CHUNK_S` late."""
        await asyncio.sleep(0)
        while (left_s := when_s - self.now_s()) > 0:  # noqa: ASYNC110 - time is what it waits for
            await asyncio.sleep(min(left_s, CHUNK_S))

    def gate(self, name: str) -> Gate:
        """A gate that is always open."""
        return self._gate


class CountingGate:
    """A gate of a paced clock. For the loop's own thread; others come through `call_soon_threadsafe`."""

    def __init__(self, name: str, real_s: Callable[[], float]) -> None:
        self.name = name
        self.count = 0
        self.progress_real_s = 0.0
        self._real_s = real_s

    def shut(self, count: int = 1) -> None:
        """`count` more pieces of work are under way."""
        if self.count == 0:
            self.progress_real_s = self._real_s()
        self.count += count

    def open(self, count: int = 1) -> None:
        """`count` of them are done. Raises GateStuckError when more is done than was under way."""
        if count > self.count:
            raise GateStuckError(f"gate {self.name!r}: {count} done of {self.count} under way")
        self.count -= count
        self.progress_real_s = self._real_s()


class PacedClock:
    """Virtual time, from 0. `speed`: virtual seconds per real second at most; None: as fast as the work allows.

    Lives on the loop of `new_loop` alone. `real_s` is there for tests.
    """

    def __init__(
        self, *, speed: float | None = None, start_utc_s: float, real_s: Callable[[], float] = time.monotonic
    ) -> None:
        if speed is not None and not 0 < speed < math.inf:
            raise ValueError(f"speed must be a positive number, not {speed}")
        self._speed = speed
        self._start_utc_s = start_utc_s
        self._real_s = real_s
        self._now_s = 0.0
        self._reached_real_s = real_s()
        self._sleepers: list[tuple[float, int, asyncio.Future[None]]] = []
        self._asked = 0
        self._gates: dict[str, CountingGate] = {}
        self._gates_count = True

    def now_s(self) -> float:
        """Virtual seconds since the clock was made."""
        return self._now_s

    def at_utc_s(self) -> float:
        """The wall time it would be."""
        return self._start_utc_s + self._now_s

    def synchronised(self) -> bool:
        """There is no other wall time that it could be apart from."""
        return True

    async def sleep_until(self, when_s: float) -> None:
        """Returns once `now_s() >= when_s`; at once, but not before others had a turn, when that is past."""
        if when_s <= self._now_s:
            await asyncio.sleep(0)
            return
        if not self._sleepers:
            self._reached_real_s = max(self._reached_real_s, self._real_s() - SLACK_S)
        woken: asyncio.Future[None] = asyncio.get_running_loop().create_future()
        self._asked += 1
        heapq.heappush(self._sleepers, (when_s, self._asked, woken))
        await woken

    def gate(self, name: str) -> CountingGate:
        """The gate called `name`, the same one for the same name."""
        if name not in self._gates:
            self._gates[name] = CountingGate(name, self._real_s)
        return self._gates[name]

    def new_loop(self) -> asyncio.SelectorEventLoop:
        """An event loop whose idle moments move this clock."""
        return asyncio.SelectorEventLoop(IdleSelector(self))

    def wait_s(self) -> float:
        """Real seconds to wait for I/O before time may move: 0 for now, infinity with nobody asleep.

        Raises GateStuckError once for a gate that made no progress for GATE_LIMIT_S; from then on gates count no
        more, so that the tasks can be ended.
        """
        shut = [gate for gate in self._gates.values() if gate.count] if self._gates_count else []
        if shut:
            oldest = min(shut, key=lambda gate: gate.progress_real_s)
            left_s = oldest.progress_real_s + GATE_LIMIT_S - self._real_s()
            if left_s > 0:
                return left_s
            self._gates_count = False
            raise GateStuckError(f"gate {oldest.name!r} shut for {GATE_LIMIT_S:g} s: {oldest.count} never done")
        while self._sleepers and self._sleepers[0][2].done():
            heapq.heappop(self._sleepers)
        if not self._sleepers:
            return math.inf
        return max(0.0, self._due_real_s() - self._real_s())

    def move(self) -> None:
        """Moves to the earliest deadline and wakes its sleeper."""
        due_real_s = self._due_real_s()
        self._reached_real_s = max(due_real_s, self._real_s() - SLACK_S)
        self._now_s, _, woken = heapq.heappop(self._sleepers)
        woken.set_result(None)

    def _due_real_s(self) -> float:
        """When the earliest deadline may be reached, in real time."""
        if self._speed is None:
            return -math.inf
        return self._reached_real_s + (self._sleepers[0][0] - self._now_s) / self._speed


class IdleSelector(selectors.BaseSelector):
    """The selector of a paced loop: asks the real one first, and moves the clock when it has nothing."""

    def __init__(self, clock: PacedClock, real: selectors.BaseSelector | None = None) -> None:
        self._clock = clock
        self._real = real or selectors.DefaultSelector()

    def select(self, timeout: float | None = None) -> list[tuple[selectors.SelectorKey, int]]:
        """What is ready. `timeout` 0: the loop has work of its own; longer or None: it is idle."""
        ready = self._real.select(0)
        if ready or (timeout is not None and timeout <= 0):
            return ready
        wait_s = self._clock.wait_s()
        if wait_s > 0:
            least_s = wait_s if timeout is None else min(wait_s, timeout)
            return self._real.select(None if least_s == math.inf else least_s)
        self._clock.move()
        return []

    def register(self, fileobj: FileDescriptorLike, events: int, data: object = None) -> selectors.SelectorKey:
        """As in the real selector."""
        return self._real.register(fileobj, events, data)

    def unregister(self, fileobj: FileDescriptorLike) -> selectors.SelectorKey:
        """As in the real selector."""
        return self._real.unregister(fileobj)

    def modify(self, fileobj: FileDescriptorLike, events: int, data: object = None) -> selectors.SelectorKey:
        """As in the real selector."""
        return self._real.modify(fileobj, events, data)

    def get_map(self) -> Mapping[FileDescriptorLike, selectors.SelectorKey]:
        """As in the real selector."""
        return self._real.get_map()

    def close(self) -> None:
        """As in the real selector."""
        self._real.close()


def run_paced(main: Callable[[PacedClock], Awaitable[T]], *, speed: float | None = None, start_utc_s: float = 0.0) -> T:
    """Runs `main` on a loop of its own with a fresh paced clock, and gives what it gives."""
    clock = PacedClock(speed=speed, start_utc_s=start_utc_s)

    async def whole() -> T:
        return await main(clock)

    with asyncio.Runner(loop_factory=clock.new_loop) as runner:
        return runner.run(whole())
