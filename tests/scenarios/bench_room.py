"""A board with its kettle in one process and a service in another, at speed 1; pins told apart by the trace."""

from __future__ import annotations

import asyncio
import os
import sys
import time
from asyncio.subprocess import DEVNULL, PIPE, Process
from collections.abc import AsyncIterator, Mapping
from contextlib import asynccontextmanager
from dataclasses import dataclass
from pathlib import Path

from kettlebridge.files.examples import config_folder

HERE = Path(__file__).parent
READY_S = 120.0
KETTLE = "thimble.toml"
PROFILE = "quillet_bitter.toml"
BOARD_ID = "3A51"
CONTROL_ROM = "285E3D910700005F"
LEASE_S = 3.0
"""As the example kettle has it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PinChange:
    """One line of the board's trace; `at_s` on the machine's monotonic clock."""

    at_s: float
    pin: str
    on: bool


@dataclass(slots=True, kw_only=True)
class Room:
    """One board; `port` is what a host opens."""

    folder: Path
    port: str
    board: Process

    def trace(self) -> list[PinChange]:
        """Every change of a pin so far."""
        lines = (self.folder / "trace").read_text(encoding="ascii").splitlines()
        parts = [line.split() for line in lines if line.count(" ") == 2]
        return [PinChange(at_s=float(at), pin=pin, on=on == "1") for at, pin, on in parts]

    def heater_on(self) -> bool:
        """Whether the heater's pin is on now."""
        heater = [change.on for change in self.trace() if change.pin == "heater"]
        return bool(heater) and heater[-1]

    def last_off_s(self) -> float:
        """When the heater's pin went off for the last time. Raises IndexError where it never did."""
        return [change.at_s for change in self.trace() if change.pin == "heater" and not change.on][-1]

    def kettle_file(self, port: str) -> Path:
        """The example kettle with its bridge at `port`."""
        text = (config_folder() / "kettles" / KETTLE).read_text(encoding="utf-8")
        lines = [f'port = "{port}"' if line.startswith("port = ") else line for line in text.splitlines()]
        path = self.folder / KETTLE
        path.write_text("\n".join(lines) + "\n", encoding="utf-8")
        return path

    @asynccontextmanager
    async def service(
        self, *options: str, port: str | None = None, environment: Mapping[str, str] | None = None
    ) -> AsyncIterator[Process]:
        """A service at this board (or at `port` before it); killed at the end. `environment`: what is added."""
        process = await asyncio.create_subprocess_exec(
            sys.executable,
            str(HERE / "service_process.py"),
            str(self.kettle_file(port or self.port)),
            str(config_folder() / "profiles" / PROFILE),
            str(self.folder / "state"),
            *options,
            env=os.environ | (environment or {}),
            stdout=PIPE,
            stderr=PIPE,
        )
        try:
            yield process
        finally:
            await ended(process)


@asynccontextmanager
async def room(folder: Path, board_id: str = BOARD_ID) -> AsyncIterator[Room]:
    """A board whose kettle holds seven litres of cold water."""
    await asyncio.to_thread(folder.mkdir, parents=True)
    board = await asyncio.create_subprocess_exec(
        sys.executable,
        *("-m", "kettlesim", "--capacity-l", "12", "--heater-w", "1800", "--fill-l", "7", "--fill-c", "14"),
        *("--id", board_id, "--probe", f"control={CONTROL_ROM}", "--trace", str(folder / "trace")),
        stdin=DEVNULL,
        stdout=PIPE,
    )
    try:
        said = await said_by(board)
        yield Room(folder=folder, port=said.split()[1], board=board)
    finally:
        await ended(board)


async def said_by(process: Process) -> str:
    """The next line of its output. Raises TimeoutError."""
    assert process.stdout is not None
    line = await asyncio.wait_for(process.stdout.readline(), READY_S)
    assert line, "the process ended without saying so"
    return line.decode().strip()


async def ended(process: Process) -> None:
    """Kills it if need be, and waits for its end."""
    if process.returncode is None:
        process.kill()
    await process.wait()


async def until(when_s: float) -> None:
    """Waits for a moment of the monotonic clock."""
    await asyncio.sleep(max(when_s - time.monotonic(), 0.0))
