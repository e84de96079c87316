"""Which serial ports there are, and whether a board of the line protocol is at the other end. Nothing is switched."""

from __future__ import annotations

from dataclasses import dataclass

from serial.tools import list_ports

from kettlebridge.drivers.serial_line.frames import Board, ForeignBoard, ProbeList, Query
from kettlebridge.drivers.serial_line.line import Line, open_line, sequence_numbers
from kettlebridge.drivers.serial_line.time_limit import time_limit
from kettlebridge.ports import Clock

PATIENCE_S = 4.0
"""Opening the port resets many boards, and they need seconds to boot."""

ASK_EVERY_S = 0.5
PROBES_AFTER_S = 1.0
"""A board lists its probes right behind saying who it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundPort:
    """A serial port of this machine; `words` is what its adapter says of itself."""

    path: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundBoard:
    """A board; `roms` are its probes. `board_id` is None where it speaks another version."""

    board_id: str | None
    roms: tuple[str, ...]


def serial_ports() -> tuple[FoundPort, ...]:
    """Those that an adapter or the machine itself offers, by the name that stays the same where there is one."""
    found = [
        FoundPort(path=str(port.device), words=str(port.description))
        for port in list_ports.comports(include_links=True)
    ]
    return tuple(sorted(found, key=lambda port: port.path))


async def board_at(path: str, clock: Clock) -> FoundBoard | None:
    """Who answers the question of the line protocol; None: nobody. Raises LinkError where the port does not open."""
    line = await open_line(path, clock, sequence_numbers())
    try:
        return await _introduced(line, clock)
    finally:
        await line.close()


async def _introduced(line: Line, clock: Clock) -> FoundBoard | None:
    give_up_s = clock.now_s() + PATIENCE_S
    board: Board | ForeignBoard | None = None
    roms: tuple[str, ...] = ()
    while clock.now_s() < give_up_s and not roms:
        line.send(Query())
        try:
            async with time_limit(clock, min(clock.now_s() + ASK_EVERY_S, give_up_s)):
                while not roms:
                    frame = (await line.frame()).frame
                    if isinstance(frame, Board | ForeignBoard) and board is None:
                        board = frame
                        give_up_s = min(give_up_s, clock.now_s() + PROBES_AFTER_S)
                    elif isinstance(frame, ProbeList) and board is not None:
                        roms = tuple(rom for _, rom in frame.roms)
        except TimeoutError:
            continue
    if board is None:
        return None
    return FoundBoard(board_id=board.board_id if isinstance(board, Board) else None, roms=roms)
