"""The frames of the Kettlebridge line protocol 1.0 as values; docs/protocol.md says what each one means."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, Flag

from kettlebridge.model.reading import BoardInput, ReadingFault

MAJOR = 1
"""The version of the protocol spoken here. A board of another one is never claimed."""

NO_SESSION = 0
"""`session` of a report while nobody holds the board."""


class ResetCause(Enum):
    """Why a board booted."""

    POWER_ON = "por"
    BROWN_OUT = "brown"
    WATCHDOG = "wdt"
    RESET_PIN = "ext"
    SOFTWARE = "soft"


class Ability(Flag):
    """What a board says of its own build."""

    NONE = 0
    HARDWARE_WATCHDOG = 1
    BROWN_OUT_RESET = 2
    OUTPUTS_LOW_IN_RESET = 4
    INPUTS = 8
    LOAD_SENSE = 16
    SIMULATED = 32


class Refusal(Enum):
    """Why a board did not do what it was told."""

    VERSION = "version"
    BUSY = "busy"
    SESSION = "session"
    STALE = "stale"
    RANGE = "range"
    KEY = "key"
    ORDER = "order"
    LAPSED = "lapsed"
    INPUT = "input"


@dataclass(frozen=True, slots=True, kw_only=True)
class Version:
    """`major` changes when an old host could misread a board; `minor` when only keys were added."""

    major: int
    minor: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Conversion:
    """One reading of one probe: exactly one of `value_c` and `fault` is set; `age_ms` counts from its end."""

    value_c: float | None = None
    fault: ReadingFault | None = None
    age_ms: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Board:
    """B: who the board is. `boot` is new at each boot; `max_ttl_ms` is the longest lease it takes."""

    version: Version
    board_id: str
    boot: int
    cause: ResetCause
    max_ttl_ms: int
    abilities: Ability


@dataclass(frozen=True, slots=True, kw_only=True)
class ForeignBoard:
    """B of another major version; nothing else in it can be relied on."""

    version: Version


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbeList:
    """P: (probe index, ROM id) pairs in the order of the index."""

    roms: tuple[tuple[int, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Query:
    """Q: who are you? Changes nothing."""

    major: int = MAJOR


@dataclass(frozen=True, slots=True, kw_only=True)
class Off:
    """X: every output off at once, the session ended."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """C: asks for the session of the board that booted as `boot`."""

    major: int = MAJOR
    boot: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """T: the board's account of itself at `up_ms` (32 bit, wraps), its probes as (index, conversion) pairs.

    Outputs are those of the pins, not those last ordered. `heater_on_ms` accumulates and wraps at 32 bit.
    """

    up_ms: int
    session: int
    conversions: tuple[tuple[int, Conversion], ...]
    heater_permille: int
    heater_on_ms: int
    pump_on: bool
    contactor_on: bool
    inputs: BoardInput
    lease_left_ms: int
    dropped_frames: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """O: what the outputs shall be until `acted_on` + `ttl_ms` on the board's clock."""

    session: int
    acted_on: int
    ttl_ms: int
    heater_permille: int
    pump_on: bool
    contactor_on: bool
    buzzer: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Accepted:
    """A: `session` is set in the answer to a claim, None in the answer to an order."""

    session: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """N: nothing was changed, and why."""

    why: Refusal


FromBoard = Board | ForeignBoard | ProbeList | Report | Accepted | Refused
FromHost = Query | Off | Claim | Order
Frame = FromBoard | FromHost


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """A frame that arrived whole. `seq` pairs an answer with its question and says nothing about freshness."""

    seq: int
    frame: Frame
