"""What `serve` with one kettle takes at the speed of life: memory, CPU, and the time to its first sample."""

from __future__ import annotations

import asyncio
import json
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import psutil

from kettlebridge.files.examples import config_folder
from kettlebridge.model.errors import OperatorError
from kettlebridge.model.ids import KettleId
from kettlebridge.runtime.control_client import watch
from tests.benchmarks.figure import Figure
from tests.scenarios.bench_room import PROFILE, Room, ended, room

SETTLING_S = 10.0
WATCHED_S = 30.0
STARTS = 5
PLANS = 9
RECIPE = config_folder() / "recipes" / "corvane_pale.toml"
KETTLE = config_folder() / "kettles" / "saddle.toml"
LONGEST_START_S = 20.0


@asynccontextmanager
async def _served(place: Room, state: Path) -> AsyncIterator[asyncio.subprocess.Process]:
    process = await asyncio.create_subprocess_exec(
        str(Path(sys.executable).with_name("kettlebridge")),
        "serve",
        "--http",
        "0",
        str(place.kettle_file(place.port)),
        *("--profile", f"thimble={config_folder() / 'profiles' / PROFILE}", "--state", str(state)),
        stdout=asyncio.subprocess.DEVNULL,
    )
    try:
        yield process
    finally:
        process.terminate()
        await asyncio.wait_for(process.wait(), LONGEST_START_S)
        await ended(process)


async def _first_sample(socket: Path) -> None:
    """Until a snapshot shows that the control probe was heard."""
    while True:
        try:
            async for snapshot in watch(socket, KettleId("thimble")):
                if '"settling"' in json.dumps(snapshot["probes"]) or snapshot["temperature_c"] is not None:
                    return
        except OperatorError:
            await asyncio.sleep(0.01)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """Resident memory and CPU share while it is watched, and the seconds of each start."""

    resident_mb: float
    cpu_percent: float
    starts_s: tuple[float, ...]


async def _measure() -> Cost:
    starts_s = []
    with tempfile.TemporaryDirectory() as folder:
        async with room(Path(folder) / "room") as place:
            for number in range(STARTS):
                state = Path(folder) / f"state{number}"
                begun_s = time.monotonic()
                async with _served(place, state):
                    await asyncio.wait_for(_first_sample(state / "control.sock"), LONGEST_START_S)
                    starts_s.append(time.monotonic() - begun_s)
            async with _served(place, Path(folder) / "long") as process:
                await asyncio.sleep(SETTLING_S)
                watched = psutil.Process(process.pid)
                watched.cpu_percent()
                await asyncio.sleep(WATCHED_S)
                return Cost(
                    resident_mb=watched.memory_info().rss / 1e6,
                    cpu_percent=watched.cpu_percent(),
                    starts_s=tuple(starts_s),
                )


@cache
def measured() -> Cost:
    """All of it, once."""
    return asyncio.run(_measure())


def _worked_s() -> float:
    """The processor's time in programs that were run and have ended."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def plan() -> Figure:
    """A sheet on the terminal, from the command to its end."""
    command = [str(Path(sys.executable).with_name("kettlebridge")), "plan", str(RECIPE), "--kettle", str(KETTLE)]
    lasted_s, worked_s = [], []
    for _ in range(PLANS):
        begun_s, worked_before_s = time.monotonic(), _worked_s()
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        lasted_s.append(time.monotonic() - begun_s)
        worked_s.append(_worked_s() - worked_before_s)
    text = f"median {statistics.median(lasted_s):.2f} s, of the processor {statistics.median(worked_s):.2f} s"
    return Figure(text=text, how=f"{RECIPE.stem} in {KETTLE.stem}, start to finish, {PLANS} times")


def memory() -> Figure:
    """Resident set after half a minute."""
    return Figure(text=f"{measured().resident_mb:.0f} MB", how=f"resident set after {SETTLING_S + WATCHED_S:.0f} s")


def cpu() -> Figure:
    """CPU share with an idle batch: a tick, two reports, a row in the record each second."""
    return Figure(text=f"{measured().cpu_percent:.1f} %", how=f"over {WATCHED_S:.0f} s")


def first_sample() -> Figure:
    """From the command to the first temperature that was heard."""
    return Figure(
        text=f"median {statistics.median(measured().starts_s):.2f} s",
        how=f"from the command to the first reading in a snapshot, {STARTS} starts",
    )
