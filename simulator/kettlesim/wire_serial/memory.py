"""What a reset of the board wipes."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import IntEnum

from kettlesim.wire_serial.encoding import FrameReader
from kettlesim.wire_serial.fittings import NO_INPUT, Input


class Timer(IntEnum):
    """What falls due; of two at the same time the lower one goes first."""

    LEASE_END = 0
    BOOTED = 1
    WATCHDOG = 2
    RESUMED = 3
    CONVERTED = 4
    TELL = 5


@dataclass(slots=True, kw_only=True)
class Memory:
    """Times are in ms of the supply's clock.

    `session` is 0 without one, and `lapsed` from the end of a lease to the next claim; `newest_e` is the newest board
    time that a demand of this session acted on; `latched` are latching inputs from
    their rise to a demand without heat that follows from a report that told them, `latch_told_ms` when the first such
    report went out.
    `seen` gathers the inputs since the last T, so that a short press shows; `told` is its news, to tell what changed.
    """

    boot: int
    cause: str
    reset_ms: int
    on_before_ms: int
    due: dict[Timer, int]
    seen: Input
    reader: FrameReader = field(default_factory=FrameReader)
    ring: bytearray = field(default_factory=bytearray)
    next_seq: int = 1
    listening: bool = False
    stalled: bool = False
    session: int = 0
    lapsed: bool = False
    lease_end_ms: int | None = None
    newest_e: int | None = None
    latched: Input = NO_INPUT
    latch_told_ms: int | None = None
    buzzer: int = 0
    told: tuple[object, ...] = ()
    told_inputs: Input = NO_INPUT
    told_ms: int = 0
    told_roms: tuple[str, ...] = ()
