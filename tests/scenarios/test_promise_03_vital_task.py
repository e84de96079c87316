"""Promise 3 with real processes at speed 1: a vital task hangs, the pings stop, and the manager ends it safe.

The test stands in for the service manager: it listens to the pings, ends the process as systemd would (SIGABRT once
the limit has passed without one), and starts it again. All hangs happen at once, in rooms of their own.
"""

from __future__ import annotations

import asyncio
import os
import signal
import socket
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest

from kettlebridge.core.promises import PROMISES
from kettlebridge.runtime.vital_tasks import LATE_S
from tests.scenarios.bench_room import LEASE_S, READY_S, Room, room, said_by, until

LIMIT_S = 2.0
"""The manager's; the unit has 10."""

PING_S = LIMIT_S / 4
LATE_TEST_S = 1.0
"""What two busy cores may cost."""

WATCHED_AFTER_S = 4.0
HANGS = ("ticks_hang", "writer_hangs", "sleeps")

pytestmark = [pytest.mark.process, pytest.mark.slow]


class Manager:
    """A socket that is told. `said` is (monotonic time, state)."""

    def __init__(self, listening: socket.socket, name: str) -> None:
        self.said: list[tuple[float, str]] = []
        self.environment = {"NOTIFY_SOCKET": name, "WATCHDOG_USEC": str(int(LIMIT_S * 1e6))}
        self.ready = asyncio.Event()
        self._listening = listening

    def hear(self) -> None:
        self.said += [(time.monotonic(), line) for line in self._listening.recv(4096).decode().split("\n")]
        if self.times_s("READY=1"):
            self.ready.set()

    def times_s(self, state: str) -> list[float]:
        return [at_s for at_s, said in self.said if said == state]


@contextmanager
def manager(name: str) -> Iterator[Manager]:
    """Listens on the running loop."""
    address = f"@kettlebridge-{os.getpid()}-{name}"
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listening:
        listening.bind(address.replace("@", "\0"))
        listening.setblocking(False)
        one = Manager(listening, address)
        asyncio.get_running_loop().add_reader(listening, one.hear)
        try:
            yield one
        finally:
            asyncio.get_running_loop().remove_reader(listening)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """Seconds from the fault; `status` is what the manager was told last, `on_again` after the end."""

    pings_before: int
    last_ping_s: float
    status: str
    ended_s: float
    off_s: float
    on_again: bool
    back: tuple[str, ...]


async def _hung(folder: Path, how: str) -> Outcome:
    async with room(folder) as place:
        with manager(how) as told:
            options = ("--misbehave", how, "--after-s", "1.5", "--no-guard")
            async with place.service(*options, environment=told.environment) as service:
                assert await said_by(service) == "heating"
                fault_s = float((await said_by(service)).split()[1])
                while time.monotonic() < max(told.times_s("WATCHDOG=1")) + LIMIT_S:
                    await until(max(told.times_s("WATCHDOG=1")) + LIMIT_S)
                pings_s = told.times_s("WATCHDOG=1")
                status = [said for _, said in told.said if said.startswith("STATUS=")][-1]
                ended_s = time.monotonic()
                service.send_signal(signal.SIGABRT)
                await service.wait()
        await until(ended_s + LEASE_S + LATE_TEST_S)
        off_s = place.last_off_s()
        on_before = place.heater_on()
        back, on_again = await _started_again(place, how, ended_s + LEASE_S + 0.5)
        return Outcome(
            pings_before=sum(at_s < fault_s for at_s in pings_s),
            last_ping_s=pings_s[-1] - fault_s,
            status=status,
            ended_s=ended_s - fault_s,
            off_s=off_s - fault_s,
            on_again=on_before or on_again,
            back=back,
        )


async def _started_again(place: Room, how: str, off_from_s: float) -> tuple[tuple[str, ...], bool]:
    """What it says, and whether the heater's pin was on at any moment from then on."""
    with manager(f"{how}-again") as told:
        async with place.service(environment=told.environment):
            await asyncio.wait_for(told.ready.wait(), READY_S)
            await asyncio.sleep(WATCHED_AFTER_S)
    on = [change for change in place.trace() if change.pin == "heater" and change.on and change.at_s > off_from_s]
    return tuple(said for _, said in told.said), bool(on)


@pytest.fixture(scope="module")
def outcomes(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Outcome]:
    """Every hang once."""
    folder = tmp_path_factory.mktemp("rooms")

    async def all_of_them() -> list[Outcome]:
        return await asyncio.gather(*(_hung(folder / how, how) for how in HANGS))

    return dict(zip(HANGS, asyncio.run(all_of_them()), strict=True))


@pytest.mark.parametrize("how", HANGS)
def test_pings_stop_within_five_seconds_of_a_hang(outcomes: dict[str, Outcome], how: str) -> None:
    outcome = outcomes[how]
    assert outcome.pings_before >= 2, "it never pinged: the hang shows nothing"
    assert outcome.last_ping_s <= LATE_S + PING_S + LATE_TEST_S


@pytest.mark.parametrize(("how", "words"), [("ticks_hang", "ticks of thimble"), ("writer_hangs", "journal writer")])
def test_the_manager_is_told_which_task_is_late(outcomes: dict[str, Outcome], how: str, words: str) -> None:
    assert outcomes[how].status == f"STATUS=Late: {words}"


@pytest.mark.parametrize("how", HANGS)
def test_the_heater_is_off_within_the_promised_time(outcomes: dict[str, Outcome], how: str) -> None:
    """The promise is for the unit's limit of 10 s; here it is shorter."""
    (promise,) = [promise for promise in PROMISES if promise.id == 3]
    assert promise.within_s is not None
    assert outcomes[how].off_s <= promise.within_s - (10.0 - LIMIT_S)


@pytest.mark.parametrize("how", ["ticks_hang", "sleeps"])
def test_a_kettle_that_is_no_longer_driven_is_off_with_its_lease(outcomes: dict[str, Outcome], how: str) -> None:
    assert outcomes[how].off_s <= LEASE_S + 0.5


@pytest.mark.parametrize("how", HANGS)
def test_it_comes_back_with_the_heater_off_and_says_that_it_is_ready(outcomes: dict[str, Outcome], how: str) -> None:
    assert "READY=1" in outcomes[how].back
    assert "WATCHDOG=1" in outcomes[how].back
    assert not outcomes[how].on_again
