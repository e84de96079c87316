"""What the service manager is told, and when it is told nothing more."""

from __future__ import annotations

import asyncio
import logging
import os
import socket
from collections.abc import Awaitable, Callable
from pathlib import Path

import pytest

from kettlebridge.model.ids import KettleId
from kettlebridge.ports import JournalHealth
from kettlebridge.runtime.clock import PacedClock
from kettlebridge.runtime.service_manager import DEFAULT_PING_S, ServiceManager, keep_told, manager_of, notify
from kettlebridge.runtime.vital_tasks import LATE_S, WRITER, VitalTasks
from tests.runtime.fakes import COPPER, Bench, running
from tests.runtime.test_loop import on_bench

TIN = KettleId("tin")
WELL = JournalHealth(failing_why=None, unwritten=0, waiting_s=0.0)


class Told:
    """What was said, and when."""

    def __init__(self, clock: PacedClock) -> None:
        self.said: list[tuple[float, str]] = []
        self._clock = clock

    def __call__(self, state: str) -> None:
        self.said.append((self._clock.now_s(), state))

    def times_s(self, state: str) -> list[float]:
        return [at_s for at_s, said in self.said if state in said.split("\n")]


class Watched:
    """A kettle's keeper, watched and told of."""

    def __init__(self, clock: PacedClock, bench: Bench, *others: KettleId) -> None:
        self.health = WELL
        self.told = Told(clock)
        self.vital = VitalTasks((COPPER, *others), clock, lambda: self.health)
        bench.guard = self.vital  # type: ignore[assignment]  # it stands where the fake one does
        self.telling = keep_told(ServiceManager(self.told, 1.0), self.vital, clock)


def watched(test: Callable[[PacedClock, Bench, Watched], Awaitable[None]], *others: KettleId) -> None:
    async def body(clock: PacedClock, bench: Bench) -> None:
        watch = Watched(clock, bench, *others)
        async with running(watch.telling), running(bench.keeper().run()):
            await test(clock, bench, watch)

    on_bench(body)


async def never() -> None:
    await asyncio.Event().wait()


def test_ready_is_said_once_and_then_a_ping_every_period() -> None:
    async def test(clock: PacedClock, bench: Bench, watch: Watched) -> None:
        await clock.sleep_until(30.5)
        assert watch.told.times_s("READY=1") == [1.0]
        assert watch.told.times_s("WATCHDOG=1") == [float(k) for k in range(31)]

    watched(test)


def test_ready_waits_for_every_kettle() -> None:
    async def test(clock: PacedClock, bench: Bench, watch: Watched) -> None:
        await clock.sleep_until(30.5)
        assert watch.told.times_s("READY=1") == []
        watch.vital.left(TIN)  # it came to nothing, and is tried again: that is no reason to end the others
        await clock.sleep_until(31.5)
        assert watch.told.times_s("READY=1") == [31.0]

    watched(test, TIN)


def test_stopping_is_said_in_the_end() -> None:
    async def body(clock: PacedClock, bench: Bench) -> None:
        watch = Watched(clock, bench)
        async with running(watch.telling):
            await clock.sleep_until(1.0)
        assert watch.told.said[-1][1] == "STOPPING=1"

    on_bench(body)


def test_a_kettle_whose_ticks_hang_ends_the_pings(caplog: pytest.LogCaptureFixture) -> None:
    async def test(clock: PacedClock, bench: Bench, watch: Watched) -> None:
        await clock.sleep_until(20.5)
        bench.inbox.wake.wait = never  # type: ignore[method-assign, assignment]  # nothing wakes it any more
        await clock.sleep_until(60.0)
        assert bench.watching.times_s[-1] == 21.0
        assert watch.told.times_s("WATCHDOG=1")[-1] == 21.0 + LATE_S
        assert watch.told.times_s("STATUS=Late: ticks of copper") == [22.0 + LATE_S]

    watched(test)
    assert [record.message for record in caplog.records if record.levelno >= logging.WARNING][-1:] == [
        "late: ticks of copper"
    ]


def test_a_life_that_hangs_before_its_first_tick_is_late_too() -> None:
    async def body(clock: PacedClock, bench: Bench) -> None:
        watch = Watched(clock, bench)
        watch.vital.began(COPPER)
        async with running(watch.telling):
            await clock.sleep_until(30.0)
        assert watch.told.times_s("WATCHDOG=1")[-1] == LATE_S
        assert watch.told.times_s("READY=1") == []

    on_bench(body)


def test_a_crashed_kettle_that_waits_for_its_next_life_is_not_late() -> None:
    async def test(clock: PacedClock, bench: Bench, watch: Watched) -> None:
        bench.fake.failures = 16  # lives end one after the other, and wait longer each time
        await clock.sleep_until(200.0)
        assert bench.fake.failures == 0
        assert watch.told.times_s("WATCHDOG=1") == [float(k) for k in range(200)]

    watched(test)


def test_a_writer_that_leaves_things_lying_ends_the_pings_and_a_slow_disk_does_not() -> None:
    async def test(clock: PacedClock, bench: Bench, watch: Watched) -> None:
        watch.health = JournalHealth(failing_why="the disk does not answer", unwritten=30, waiting_s=30.0)
        await clock.sleep_until(20.5)
        assert watch.told.times_s("WATCHDOG=1")[-1] == 20.0
        watch.health = JournalHealth(failing_why=None, unwritten=6, waiting_s=6.0, writer_late_s=LATE_S + 0.1)
        await clock.sleep_until(30.5)
        assert watch.told.times_s("WATCHDOG=1")[-1] == 20.0
        assert watch.told.times_s(f"STATUS=Late: {WRITER}") == [21.0]
        watch.health = WELL
        await clock.sleep_until(31.5)
        assert watch.told.times_s("WATCHDOG=1")[-1] == 31.0

    watched(test)


def test_a_manager_that_does_not_listen_costs_one_line(caplog: pytest.LogCaptureFixture, tmp_path: Path) -> None:
    manager = ServiceManager(lambda state: notify(str(tmp_path / "nobody"), state))
    manager.say("READY=1")
    manager.say("WATCHDOG=1")
    assert [record.levelname for record in caplog.records] == ["WARNING"]


@pytest.mark.parametrize("abstract", [False, True])
def test_notify_reaches_the_socket_that_the_environment_names(abstract: bool, tmp_path: Path) -> None:
    name = f"@kettlebridge-test-{os.getpid()}" if abstract else str(tmp_path / "notify")
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.bind(name.replace("@", "\0"))
        manager.settimeout(5.0)
        found = manager_of({"NOTIFY_SOCKET": name, "WATCHDOG_USEC": "10000000"})
        assert found is not None
        assert found.ping_s == 2.5
        found.say("READY=1")
        assert manager.recv(100) == b"READY=1"


@pytest.mark.parametrize("environment", [{}, {"NOTIFY_SOCKET": ""}, {"NOTIFY_SOCKET": "vsock:2:9999"}])
def test_without_a_socket_nobody_is_told(environment: dict[str, str]) -> None:
    assert manager_of(environment) is None


@pytest.mark.parametrize(
    "more", [{}, {"WATCHDOG_USEC": "0"}, {"WATCHDOG_USEC": "soon"}, {"WATCHDOG_USEC": "1000000", "WATCHDOG_PID": "1"}]
)
def test_a_limit_that_is_none_or_meant_for_another_process_is_not_ours(more: dict[str, str]) -> None:
    found = manager_of({"NOTIFY_SOCKET": "/run/notify", **more})
    assert found is not None
    assert found.ping_s == DEFAULT_PING_S
