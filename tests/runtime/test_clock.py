"""The paced clock over fake and real selectors, and the real clock."""

from __future__ import annotations

import asyncio
import math
import os
import selectors
import socket
import threading
import time
from collections.abc import AsyncIterator, Awaitable, Callable, Mapping
from typing import TYPE_CHECKING

import pytest

from kettlebridge.runtime import clock as clock_module
from kettlebridge.runtime.clock import (
    CHUNK_S,
    GATE_LIMIT_S,
    GateStuckError,
    IdleSelector,
    PacedClock,
    RealClock,
    run_paced,
)

if TYPE_CHECKING:
    from _typeshed import FileDescriptorLike


def test_sleepers_wake_in_order_of_deadline_and_of_asking() -> None:
    woken: list[tuple[str, float]] = []

    async def sleeper(clock: PacedClock, name: str, when_s: float) -> None:
        await clock.sleep_until(when_s)
        woken.append((name, clock.now_s()))

    async def main(clock: PacedClock) -> None:
        async with asyncio.TaskGroup() as group:
            for name, when_s in (("late", 3600.0), ("first", 2.0), ("second", 2.0), ("early", 0.5)):
                group.create_task(sleeper(clock, name, when_s))

    run_paced(main)
    assert woken == [("early", 0.5), ("first", 2.0), ("second", 2.0), ("late", 3600.0)]


def test_equal_deadlines_wake_one_after_all_that_follows_from_the_other() -> None:
    order: list[str] = []

    async def first(clock: PacedClock, knock: asyncio.Event) -> None:
        await clock.sleep_until(1.0)
        order.append("first")
        knock.set()

    async def follower(knock: asyncio.Event) -> None:
        await knock.wait()
        for _ in range(5):
            await asyncio.sleep(0)
        order.append("follower")

    async def second(clock: PacedClock) -> None:
        await clock.sleep_until(1.0)
        order.append("second")

    async def main(clock: PacedClock) -> None:
        knock = asyncio.Event()
        async with asyncio.TaskGroup() as group:
            group.create_task(first(clock, knock))
            group.create_task(second(clock))
            group.create_task(follower(knock))

    run_paced(main)
    assert order == ["first", "follower", "second"]


def test_cancelled_sleeper_does_not_draw_time_on() -> None:
    async def main(clock: PacedClock) -> float:
        far = asyncio.create_task(clock.sleep_until(50.0))
        await clock.sleep_until(1.0)
        far.cancel()
        await clock.sleep_until(100.0 - 1e-9)
        with pytest.raises(asyncio.CancelledError):
            await far
        return clock.now_s()

    assert run_paced(main) == 100.0 - 1e-9


def test_sleeping_until_the_past_gives_others_a_turn_and_moves_nothing() -> None:
    async def main(clock: PacedClock) -> tuple[float, bool]:
        turn = asyncio.Event()
        asyncio.get_running_loop().call_soon(turn.set)
        await clock.sleep_until(-5.0)
        return clock.now_s(), turn.is_set()

    assert run_paced(main) == (0.0, True)


def test_wall_time_runs_along_with_virtual_time() -> None:
    async def main(clock: PacedClock) -> float:
        await clock.sleep_until(60.0)
        return clock.at_utc_s()

    assert run_paced(main, start_utc_s=1_700_000_000.0) == 1_700_000_060.0


def test_real_bytes_come_before_any_move_of_time() -> None:
    heard_at_s: list[float] = []

    async def main(clock: PacedClock) -> None:
        near, far = socket.socketpair()
        near.setblocking(False)
        loop = asyncio.get_running_loop()
        sleeper = asyncio.create_task(clock.sleep_until(10.0))
        for _ in range(20):
            far.send(b"x")
            await loop.sock_recv(near, 1)
            heard_at_s.append(clock.now_s())
        await sleeper
        near.close()
        far.close()

    run_paced(main)
    assert heard_at_s == [0.0] * 20


def test_shut_gate_holds_time_until_a_thread_has_done_its_work() -> None:
    async def main(clock: PacedClock) -> tuple[bool, float]:
        loop = asyncio.get_running_loop()
        gate = clock.gate("rows")
        assert clock.gate("rows") is gate
        proceed = threading.Event()
        done: list[float] = []

        def finish() -> None:
            done.append(clock.now_s())
            gate.open(3)

        def work() -> None:
            proceed.wait(5)
            loop.call_soon_threadsafe(finish)

        gate.shut(3)
        thread = threading.Thread(target=work)
        thread.start()
        sleeper = asyncio.create_task(clock.sleep_until(1.0))
        loop.call_later(0.02, proceed.set)  # a timer of the loop is real time
        await sleeper
        thread.join()
        return done == [0.0], clock.now_s()

    assert run_paced(main) == (True, 1.0)


class FakeReal:
    """Real time and a real selector of a test: waiting moves it, `arrivals` are the moments at which I/O comes."""

    def __init__(self, arrivals: tuple[float, ...] = ()) -> None:
        self.now_s = 0.0
        self.arrivals = list(arrivals)
        self.waits: list[float | None] = []
        self.selector = FakeSelector(self)

    def real_s(self) -> float:
        return self.now_s


class FakeSelector(selectors.BaseSelector):
    """See FakeReal."""

    def __init__(self, real: FakeReal) -> None:
        self._real = real
        self._key = selectors.SelectorKey(0, 0, selectors.EVENT_READ, None)

    def select(self, timeout: float | None = None) -> list[tuple[selectors.SelectorKey, int]]:
        real = self._real
        if timeout != 0:
            real.waits.append(timeout)
        until_s = real.now_s + (math.inf if timeout is None else timeout)
        if real.arrivals and real.arrivals[0] <= until_s:
            real.now_s = max(real.now_s, real.arrivals.pop(0))
            return [(self._key, selectors.EVENT_READ)]
        assert until_s < math.inf, "waits for ever"
        real.now_s = until_s
        return []

    def register(self, fileobj: FileDescriptorLike, events: int, data: object = None) -> selectors.SelectorKey:
        raise NotImplementedError

    def unregister(self, fileobj: FileDescriptorLike) -> selectors.SelectorKey:
        raise NotImplementedError

    def get_map(self) -> Mapping[FileDescriptorLike, selectors.SelectorKey]:
        return {}


def on_fake_real(
    *, speed: float | None = None, arrivals: tuple[float, ...] = ()
) -> tuple[FakeReal, PacedClock, IdleSelector]:
    real = FakeReal(arrivals)
    clock = PacedClock(speed=speed, start_utc_s=0.0, real_s=real.real_s)
    return real, clock, IdleSelector(clock, real.selector)


Asleep = Callable[[PacedClock, float], Awaitable[None]]


@pytest.fixture
async def asleep() -> AsyncIterator[Asleep]:
    """Puts somebody to sleep on a clock; ends them all after the test."""
    tasks: list[asyncio.Task[None]] = []

    async def sleep(clock: PacedClock, when_s: float) -> None:
        tasks.append(asyncio.create_task(clock.sleep_until(when_s)))
        await asyncio.sleep(0)

    yield sleep
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)


async def test_gate_without_progress_fails_loudly_by_name(asleep: Asleep) -> None:
    real, clock, selector = on_fake_real()
    await asleep(clock, 1.0)
    clock.gate("open one").shut()
    clock.gate("open one").open()
    clock.gate("board to host").shut(7)
    assert selector.select(None) == []
    assert real.now_s == GATE_LIMIT_S
    with pytest.raises(GateStuckError, match="'board to host' shut for 2 s: 7 never done"):
        selector.select(None)
    assert clock.now_s() == 0.0


async def test_gate_that_makes_progress_is_waited_for(asleep: Asleep) -> None:
    real, clock, selector = on_fake_real(arrivals=(1.5, 3.0))
    await asleep(clock, 1.0)
    gate = clock.gate("rows")
    gate.shut(2)
    assert selector.select(None)
    gate.open()
    assert selector.select(None)
    gate.open()
    assert (real.now_s, clock.now_s()) == (3.0, 0.0)
    assert selector.select(None) == []
    assert clock.now_s() == 1.0


async def test_gate_opened_more_than_shut_is_a_bug() -> None:
    gate = PacedClock(start_utc_s=0.0).gate("bytes")
    gate.shut(2)
    with pytest.raises(GateStuckError, match="3 done of 2"):
        gate.open(3)


def test_stuck_gate_ends_the_run_and_lets_tasks_clean_up(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock_module, "GATE_LIMIT_S", 0.02)
    cleaned_at_s: list[float] = []

    async def main(clock: PacedClock) -> None:
        clock.gate("bytes").shut()
        try:
            await clock.sleep_until(10.0)
        finally:
            await clock.sleep_until(20.0)
            cleaned_at_s.append(clock.now_s())

    with pytest.raises(GateStuckError, match="'bytes'"):
        run_paced(main)
    assert cleaned_at_s == [20.0]


async def test_busy_loop_moves_no_time(asleep: Asleep) -> None:
    real, clock, selector = on_fake_real()
    await asleep(clock, 1.0)
    assert selector.select(0) == []
    assert selector.select(-1) == []
    assert (real.now_s, clock.now_s()) == (0.0, 0.0)


async def test_without_sleepers_it_waits_for_io_without_polling() -> None:
    real, clock, selector = on_fake_real(arrivals=(500.0,))
    assert selector.select(None)
    assert real.waits == [None]
    assert clock.now_s() == 0.0


async def test_without_sleepers_a_timer_of_the_loop_is_waited_for_whole() -> None:
    real, _, selector = on_fake_real()
    assert selector.select(30.0) == []
    assert real.waits == [30.0]


async def test_speed_waits_before_time_moves(asleep: Asleep) -> None:
    real, clock, selector = on_fake_real(speed=4.0)
    await asleep(clock, 2.0)
    assert selector.select(None) == []
    assert (real.now_s, clock.now_s()) == (0.5, 0.0)
    assert selector.select(None) == []
    assert clock.now_s() == 2.0


async def test_speed_never_catches_up(asleep: Asleep) -> None:
    real, clock, selector = on_fake_real(speed=1.0)
    for second in range(3):
        await asleep(clock, float(second + 1))
    real.now_s = 10.0  # the work of the first second took ten
    assert selector.select(None) == []
    assert clock.now_s() == 1.0
    selector.select(None)
    assert real.waits == [pytest.approx(1.0 - clock_module.SLACK_S)]
    assert clock.now_s() == 1.0


async def test_speed_makes_up_for_coarse_timers(asleep: Asleep) -> None:
    real, clock, selector = on_fake_real(speed=100.0)
    for tenth in range(1, 101):
        await asleep(clock, tenth / 10)
    moves = 0
    while clock.now_s() < 10.0:
        before_s = clock.now_s()
        selector.select(None)
        moved = clock.now_s() > before_s
        moves += moved
        if not moved:
            real.now_s += 0.0007  # epoll rounds up to whole milliseconds
    assert moves == 100
    assert real.now_s == pytest.approx(0.1, abs=0.002)


async def test_io_ends_a_wait_for_speed(asleep: Asleep) -> None:
    real, clock, selector = on_fake_real(speed=1.0, arrivals=(0.3,))
    await asleep(clock, 1.0)
    assert selector.select(None)
    assert (real.now_s, clock.now_s()) == (0.3, 0.0)


async def test_time_with_nobody_asleep_is_no_credit_for_later(asleep: Asleep) -> None:
    real, clock, selector = on_fake_real(speed=1.0)
    real.now_s = 100.0
    await asleep(clock, 50.0)
    selector.select(None)
    assert real.waits == [pytest.approx(50.0 - clock_module.SLACK_S)]


@pytest.mark.parametrize("speed", [0.0, -1.0, math.inf, math.nan])
def test_impossible_speed_is_refused(speed: float) -> None:
    with pytest.raises(ValueError, match="speed"):
        PacedClock(speed=speed, start_utc_s=0.0)


def test_two_runs_over_a_real_pty_are_the_same() -> None:
    def run() -> list[tuple[str, float]]:
        log: list[tuple[str, float]] = []

        async def main(clock: PacedClock) -> None:
            master, slave = os.openpty()
            os.set_blocking(slave, False)
            loop = asyncio.get_running_loop()
            gate = clock.gate("bytes")

            def hear() -> None:
                data = os.read(slave, 100)
                gate.open(len(data))
                log.append((data.decode().strip(), clock.now_s()))

            async def speak(name: str, period_s: float) -> None:
                for k in range(1, 50):
                    await clock.sleep_until(k * period_s)
                    gate.shut(len(name) + 1)
                    os.write(master, f"{name}\n".encode())

            loop.add_reader(slave, hear)
            async with asyncio.TaskGroup() as group:
                group.create_task(speak("third", 0.3))
                group.create_task(speak("half", 0.5))
            await clock.sleep_until(100.0)
            loop.remove_reader(slave)
            os.close(master)
            os.close(slave)

        run_paced(main)
        return log

    first = run()
    assert len(first) == 98
    assert first == run()


async def test_real_clock_counts_boot_time_and_wall_time() -> None:
    clock = RealClock()
    assert clock.now_s() == pytest.approx(time.clock_gettime(time.CLOCK_BOOTTIME), abs=0.5)
    assert clock.at_utc_s() == pytest.approx(time.time(), abs=0.5)
    clock.gate("any").shut()
    clock.gate("any").open(5)


async def test_real_clock_notices_a_suspend_after_one_chunk(monkeypatch: pytest.MonkeyPatch) -> None:
    clock = RealClock()
    boot_s = 100.0
    slept: list[float] = []

    async def sleep(delay_s: float) -> None:
        nonlocal boot_s
        slept.append(delay_s)
        boot_s += delay_s if len(slept) < 3 else 3600.0

    monkeypatch.setattr(clock, "now_s", lambda: boot_s)
    monkeypatch.setattr(asyncio, "sleep", sleep)
    await clock.sleep_until(200.0)
    assert slept == [0, CHUNK_S, CHUNK_S]
    assert boot_s > 3600.0
