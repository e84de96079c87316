"""Promises 1, 2 and 45 with real processes at speed 1: whatever becomes of the service or its port, the board lets go.

All of it happens at once, in rooms of their own, so that the waiting is shared.
"""

from __future__ import annotations

import asyncio
import signal
import time
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest

from kettlebridge.runtime.clock import RealClock
from kettlesim.line_proxy import LineProxy
from tests.scenarios.bench_room import LEASE_S, READY_S, Room, room, said_by, until

LATE_S = 0.5
"""What the promise allows beyond the lease."""
NEVER_AGAIN_S = 3.0
HELD_S = 15.0
"""Five leases; all that waited then arrives at once."""

pytestmark = [pytest.mark.process, pytest.mark.slow]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """`off_after_s` from the fault to the heater's pin going off; `on_again` whether it ever came back."""

    heated: bool
    off_after_s: float
    on_again: bool
    exit_code: int | None = None
    said: str = ""


async def _off_since(place: Room, fault_s: float) -> tuple[bool, float, bool]:
    """(heated before, seconds from the fault to off, on again later), once it must be off."""
    await until(fault_s + LEASE_S + LATE_S + NEVER_AGAIN_S)
    changes = [change for change in place.trace() if change.pin == "heater"]
    heated = any(change.on and change.at_s < fault_s for change in changes)
    limit_s = fault_s + LEASE_S + LATE_S
    last_off_s = max((change.at_s for change in changes if not change.on), default=float("inf"))
    return heated, last_off_s - fault_s, any(change.on and change.at_s > limit_s for change in changes)


async def _signalled(folder: Path, number: signal.Signals) -> Outcome:
    async with room(folder) as place, place.service() as service:
        assert await said_by(service) == "heating"
        fault_s = time.monotonic()
        service.send_signal(number)
        heated, off_after_s, on_again = await _off_since(place, fault_s)
        if number is signal.SIGSTOP:
            service.send_signal(signal.SIGCONT)
            await asyncio.sleep(NEVER_AGAIN_S)
            on_again = on_again or place.heater_on()
        return Outcome(heated=heated, off_after_s=off_after_s, on_again=on_again)


async def killed(folder: Path) -> Outcome:
    """SIGKILL in mid-heat."""
    return await _signalled(folder, signal.SIGKILL)


async def stopped(folder: Path) -> Outcome:
    """SIGSTOP in mid-heat, and SIGCONT once the board has let go."""
    return await _signalled(folder, signal.SIGSTOP)


async def _stuck(folder: Path, how: str) -> Outcome:
    async with room(folder) as place, place.service("--misbehave", how, "--after-s", "1.5") as service:
        assert await said_by(service) == "heating"
        fault_s = float((await said_by(service)).split()[1])
        heated, off_after_s, on_again = await _off_since(place, fault_s)
        assert service.stderr is not None
        exit_code = await asyncio.wait_for(service.wait(), LEASE_S)
        said = (await service.stderr.read()).decode()
        return Outcome(heated=heated, off_after_s=off_after_s, on_again=on_again, exit_code=exit_code, said=said)


async def sleeping(folder: Path) -> Outcome:
    """A coroutine that sleeps for 30 s without giving the loop back."""
    return await _stuck(folder, "sleeps")


async def holding(folder: Path) -> Outcome:
    """A C call that holds the interpreter's lock for 30 s."""
    return await _stuck(folder, "holds")


async def unplugged(folder: Path) -> Outcome:
    """The port itself goes away in mid-heat, and comes back once the board has let go: the service lives all along."""
    plug = folder / "port"
    async with room(folder) as place, _plugged(place, plug) as cable, place.service(port=str(plug)) as service:
        assert await said_by(service) == "heating"
        fault_s = time.monotonic()
        await cable.pull()
        heated, off_after_s, on_again = await _off_since(place, fault_s)
        assert service.returncode is None
        async with _plugged(place, plug) as again:
            await again.heard()
            await asyncio.sleep(NEVER_AGAIN_S)
            on_again = on_again or place.heater_on()
        return Outcome(heated=heated, off_after_s=off_after_s, on_again=on_again)


class Cable:
    """A cable whose host's end has a name; pulled, both ports of it are gone."""

    def __init__(self, board: str, plug: Path) -> None:
        self._proxy = LineProxy(RealClock(), board, seed=1)
        self._plug = plug
        self._running = asyncio.create_task(self._proxy.run(), name="cable")
        plug.symlink_to(self._proxy.port)

    async def heard(self) -> None:
        """Waits until the service has opened the port again and said something."""
        async with asyncio.timeout(READY_S):
            while not self._proxy.to_board.frames:  # noqa: ASYNC110  # a lane wakes nobody
                await asyncio.sleep(0.1)

    async def pull(self) -> None:
        """Out of its socket; once is enough."""
        self._plug.unlink(missing_ok=True)
        self._running.cancel()
        await asyncio.gather(self._running, return_exceptions=True)


@asynccontextmanager
async def _plugged(place: Room, plug: Path) -> AsyncIterator[Cable]:
    cable = Cable(place.port, plug)
    try:
        yield cable
    finally:
        await cable.pull()


async def late_bytes(folder: Path) -> Outcome:
    """Everything the service says is held up for 15 s, the service is killed, and then it all arrives."""
    async with room(folder) as place:
        proxy = LineProxy(RealClock(), place.port, seed=1)
        running = asyncio.create_task(proxy.run(), name="proxy")
        try:
            async with place.service(port=proxy.port) as service:
                assert await said_by(service) == "heating"
                fault_s = time.monotonic()
                proxy.to_board.hold()
                heated, off_after_s, on_again = await _off_since(place, fault_s)
                await until(fault_s + HELD_S)
            proxy.to_board.release()
            await asyncio.sleep(NEVER_AGAIN_S)
            changes = [change for change in place.trace() if change.pin == "heater" and change.on]
            on_again = on_again or any(change.at_s > fault_s + LEASE_S + LATE_S for change in changes)
            return Outcome(heated=heated, off_after_s=off_after_s, on_again=on_again)
        finally:
            running.cancel()
            await asyncio.gather(running, return_exceptions=True)


FAULTS: dict[str, Callable[[Path], Awaitable[Outcome]]] = {
    "killed": killed,
    "stopped": stopped,
    "sleeping": sleeping,
    "holding": holding,
    "late_bytes": late_bytes,
    "unplugged": unplugged,
}


@pytest.fixture(scope="module")
def outcomes(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Outcome]:
    """Every fault once."""
    folder = tmp_path_factory.mktemp("rooms")

    async def all_of_them() -> list[Outcome]:
        return await asyncio.gather(*(fault(folder / name) for name, fault in FAULTS.items()))

    return dict(zip(FAULTS, asyncio.run(all_of_them()), strict=True))


@pytest.mark.parametrize("fault", FAULTS)
def test_heater_pin_is_off_within_the_lease_and_half_a_second(outcomes: dict[str, Outcome], fault: str) -> None:
    outcome = outcomes[fault]
    assert outcome.heated, "the heater never was on: the fault shows nothing"
    assert outcome.off_after_s <= LEASE_S + LATE_S


@pytest.mark.parametrize("fault", FAULTS)
def test_heater_pin_never_comes_on_again_by_itself(outcomes: dict[str, Outcome], fault: str) -> None:
    assert not outcomes[fault].on_again


@pytest.mark.parametrize("fault", ["sleeping", "holding"])
def test_stuck_process_is_ended_with_a_stack_trace(outcomes: dict[str, Outcome], fault: str) -> None:
    assert outcomes[fault].exit_code not in {None, 0}
    assert "Timeout" in outcomes[fault].said
    assert "service_process.py" in outcomes[fault].said
