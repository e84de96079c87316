"""`serve` in a process of its own at the speed of life, its boards in theirs; lateness is read off its record."""

from __future__ import annotations

import asyncio
import socket
import sys
import urllib.request
from asyncio.subprocess import DEVNULL, Process
from collections.abc import AsyncIterator
from contextlib import AsyncExitStack, asynccontextmanager
from dataclasses import dataclass
from pathlib import Path

import psutil

from kettlebridge.app import records_in
from kettlebridge.files.examples import config_folder
from tests.scenarios.bench_room import BOARD_ID, PROFILE, ended, room

COMES_S = 30.0
PERIOD_S = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Kettles:
    """`names` are served at `port` by `process`; their record is in `state`."""

    names: tuple[str, ...]
    port: int
    process: Process
    state: Path

    def resident_mb(self) -> float:
        """Memory of the service now."""
        return float(psutil.Process(self.process.pid).memory_info().rss) / 1e6

    def lateness_s(self, from_s: float = 0.0) -> list[float]:
        """How much after its beat each tick since batch time `from_s` came; beats are whole seconds of batch time."""
        records = records_in(self.state)
        ticks = [inputs.now_s for batch in records.batches() for n, inputs in records.ticks(batch.batch) if n > 0]
        return [now_s % PERIOD_S for now_s in ticks if now_s >= from_s]


@asynccontextmanager
async def serving(folder: Path, count: int, *, chosen: bool = True) -> AsyncIterator[Kettles]:
    """So many kettles, idle, each with a board of its own; `chosen`: each with a profile."""
    async with AsyncExitStack() as stack:
        files: list[str] = []
        for number in range(count):
            place = await stack.enter_async_context(room(folder / f"room{number}", f"B{number:03d}"))
            path = place.kettle_file(place.port)
            text = path.read_text(encoding="utf-8").replace('name = "thimble"', f'name = "kettle{number}"')
            text = text.replace(f'board_id = "{BOARD_ID}"', f'board_id = "B{number:03d}"')
            path.write_text(text.replace('circuit = "kitchen"', f'circuit = "circuit{number}"'), encoding="utf-8")
            files.append(str(path))
        names = tuple(f"kettle{number}" for number in range(count))
        profiles = [f"--profile={name}={config_folder() / 'profiles' / PROFILE}" for name in names if chosen]
        port = _free_port()
        process = await asyncio.create_subprocess_exec(
            str(Path(sys.executable).with_name("kettlebridge")),
            *("serve", *files, *profiles, "--http", str(port), "--state", str(folder / "state")),
            stdout=DEVNULL,
            stderr=DEVNULL,
        )
        try:
            await asyncio.wait_for(_answers(port), COMES_S)
            yield Kettles(names=names, port=port, process=process, state=folder / "state")
        finally:
            await ended(process)


def _free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as listener:
        return int(listener.getsockname()[1])


async def _answers(port: int) -> None:
    """Until the page is there."""
    while True:
        try:
            await asyncio.to_thread(urllib.request.urlopen, f"http://127.0.0.1:{port}/api/kettles", None, 2.0)
        except OSError:
            await asyncio.sleep(0.1)
        else:
            return
