"""`all-off` behind a service that was killed, as the unit runs it."""

from __future__ import annotations

import asyncio
import signal
import subprocess
from pathlib import Path

import pytest

from tests.cli.programs import finished
from tests.scenarios.bench_room import room, said_by

pytestmark = pytest.mark.process


@pytest.mark.slow
def test_all_off_is_certain_behind_a_killed_service(tmp_path: Path) -> None:
    async def scene() -> tuple[subprocess.CompletedProcess[str], set[str]]:
        async with room(tmp_path / "room") as place, place.service() as service:
            assert await said_by(service) == "heating"
            service.send_signal(signal.SIGKILL)
            await service.wait()
            done = await asyncio.to_thread(finished, "kettlebridge", "all-off", str(place.kettle_file(place.port)))
            last = {change.pin: change.on for change in place.trace()}
            return done, {pin for pin, on in last.items() if on}

    done, on = asyncio.run(scene())
    assert (done.returncode, done.stdout) == (0, "thimble: all outputs off\n")
    assert on == set()


def test_a_board_that_cannot_be_reached_is_named_and_fails(tmp_path: Path) -> None:
    async def scene() -> subprocess.CompletedProcess[str]:
        async with room(tmp_path / "room") as place:
            file = place.kettle_file(str(tmp_path / "no_port"))
            return await asyncio.to_thread(finished, "kettlebridge", "all-off", str(file))

    done = asyncio.run(scene())
    assert done.returncode == 1
    assert done.stdout.startswith("thimble: not certain: ")
