"""Promise 4 with real processes: a start that ends anywhere on its way up energises nothing, again and again.

The batch was heating when the service was killed, so every start finds an unfinished day that wants heat.
"""

from __future__ import annotations

import asyncio
import os
import signal
import sys
import time
from asyncio.subprocess import DEVNULL, PIPE
from pathlib import Path

import pytest

from kettlebridge.files.examples import config_folder
from tests.scenarios.bench_room import LEASE_S, PROFILE, PinChange, Room, room, said_by, until
from tests.scenarios.exits_at import EXIT, STEPS

PATIENCE_S = 40.0
WATCHED_AFTER_S = 4.0

pytestmark = [pytest.mark.process, pytest.mark.slow]


async def _ends_at(place: Room, step: str) -> int | None:
    kettle, profile = place.kettle_file(place.port), config_folder() / "profiles" / PROFILE
    given = ("--profile", f"thimble={profile}", "--state", str(place.folder / "state"), "--http", "0")
    process = await asyncio.create_subprocess_exec(
        *(sys.executable, "-m", "tests.scenarios.exits_at", step, "serve", str(kettle), *given),
        cwd=Path(__file__).parents[2],
        env=_environment(),
        stdin=DEVNULL,
        stdout=DEVNULL,
        stderr=PIPE,
    )
    try:
        await asyncio.wait_for(process.communicate(), PATIENCE_S)
    finally:
        if process.returncode is None:
            process.kill()
            await process.wait()
    return process.returncode


def _environment() -> dict[str, str]:
    return os.environ | {"PYTHONPATH": os.pathsep.join(sys.path), "NOTIFY_SOCKET": "@nobody-listens"}


async def _crash_loop(folder: Path) -> tuple[dict[str, int | None], list[PinChange]]:
    """How each start ended, and every pin that went on after the first end."""
    async with room(folder) as place:
        async with place.service() as service:
            assert await said_by(service) == "heating"
            killed_s = time.monotonic()
            service.send_signal(signal.SIGKILL)
            await service.wait()
        await until(killed_s + LEASE_S + 0.5)
        assert not place.heater_on()
        ends = {step: await _ends_at(place, step) for step in STEPS}
        async with place.service():
            await asyncio.sleep(WATCHED_AFTER_S)
        return ends, [change for change in place.trace() if change.on and change.at_s > killed_s + LEASE_S + 0.5]


@pytest.fixture(scope="module")
def crash_loop(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, int | None], list[PinChange]]:
    """A start for each step, one after the other, on one board."""
    return asyncio.run(_crash_loop(tmp_path_factory.mktemp("rooms") / "room"))


def test_every_start_came_to_the_step_where_it_was_to_end(
    crash_loop: tuple[dict[str, int | None], list[PinChange]],
) -> None:
    assert crash_loop[0] == dict.fromkeys(STEPS, EXIT)


def test_no_pin_was_on_in_any_start(crash_loop: tuple[dict[str, int | None], list[PinChange]]) -> None:
    assert crash_loop[1] == []
