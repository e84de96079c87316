"""A board on a pty, a clock that stands still, and a serial line between."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from typing import Any

import pytest

from kettlebridge.drivers.serial_line import SerialLine, SerialLineSettings
from kettlebridge.model.ids import ProbeName
from tests.drivers.fake_board import GUARD_S, FakeBoard
from tests.drivers.fake_inbox import FakeInbox
from tests.drivers.manual_clock import ManualClock

MASH = ProbeName("mash")
RETURN = ProbeName("return")

MakeLine = Callable[..., SerialLine]


@pytest.fixture
async def board() -> AsyncIterator[FakeBoard]:
    board = FakeBoard()
    yield board
    board.unplug()


@pytest.fixture
async def clock() -> ManualClock:
    return ManualClock()


@pytest.fixture
async def inbox() -> FakeInbox:
    return FakeInbox()


@pytest.fixture
async def make_line(board: FakeBoard, clock: ManualClock) -> MakeLine:
    def make(**changed: Any) -> SerialLine:
        fields: dict[str, Any] = {
            "port": board.path,
            "board_id": "28A4",
            "lease_s": 3.0,
            "probes": {"28A1B2C3040506B4": MASH, "28d4e5f6070809e6": RETURN},
            "require_simulated": True,
        }
        return SerialLine(SerialLineSettings(**(fields | changed)), clock)

    return make


@pytest.fixture
async def run(inbox: FakeInbox) -> AsyncIterator[Callable[[SerialLine], asyncio.Task[None]]]:
    """Starts lines as tasks, and stops those that still run when the test is over."""
    tasks: list[asyncio.Task[None]] = []

    def start(line: SerialLine) -> asyncio.Task[None]:
        tasks.append(asyncio.create_task(line.run(inbox), name="line"))
        return tasks[-1]

    yield start
    for task in tasks:
        task.cancel()
    async with asyncio.timeout(GUARD_S):
        await asyncio.gather(*tasks, return_exceptions=True)


@pytest.fixture
async def line(make_line: MakeLine, run: Callable[[SerialLine], asyncio.Task[None]], inbox: FakeInbox) -> SerialLine:
    """A line in a session; no report has come yet."""
    line = make_line()
    run(line)
    await inbox.until_linked()
    return line
