"""What a probe and a board said, as the tick sees it: ages instead of times of a foreign clock."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, Flag

from kettlebridge.model.errors import LinkReason
from kettlebridge.model.ids import ProbeName


class ReadingFault(Enum):
    """Why a probe gave no temperature. NaN and infinities become NOT_A_NUMBER at the port."""

    NO_ANSWER = "no_answer"
    BAD_CRC = "bad_crc"
    LINE_SHORT = "line_short"
    LOST_POWER = "lost_power"
    NONE_YET = "none_yet"
    NOT_A_NUMBER = "not_a_number"
    SENSOR_OPEN = "sensor_open"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One conversion of one probe: exactly one of `value_c` and `fault` is set.

    `age_s` counts from the end of the conversion to the tick that is handed the reading.
    """

    probe: ProbeName
    value_c: float | None = None
    fault: ReadingFault | None = None
    age_s: float


class BoardInput(Flag):
    """Digital inputs of a board that are on. FOAM, LEVEL, CUTOUT and STOP latch the board's heater off."""

    NONE = 0
    LEVEL = 1
    FLOW = 2
    FOAM = 4
    CUTOUT = 8
    LOAD = 16
    CONFIRM = 32
    STOP = 64


PRESSES = BoardInput.FOAM | BoardInput.CUTOUT | BoardInput.STOP | BoardInput.CONFIRM
"""Inputs that count however short they were: one report that shows them is enough. Of the others the newest counts."""

LOWERING_PRESSES = PRESSES & ~BoardInput.CONFIRM
"""Those that can only take outputs down: they count however late they come."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardState:
    """A board's own account of itself.

    `acted_on` is the board's token for this report (the serial board's uptime in ms): a demand that follows
    from the report carries it back, and the lease counts from it. `heater_on_ms` accumulates the time the
    heater pin was on. `inputs` says which digital inputs are on.
    """

    acted_on: int
    heater_permille: int
    heater_on_ms: int
    pump_on: bool
    main_contactor_closed: bool
    lease_left_s: float
    inputs: BoardInput = BoardInput.NONE
    dropped_frames: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardStanding:
    """Whether one of a kettle's boards is there.

    `name` is NAME of `[also.NAME]`, "bridge" for `[bridge]`, empty for the session as a whole. `trouble` and `detail`,
    which names port, probe or relay, say why it is not there; None before the first attempt.
    """

    name: str
    linked: bool
    trouble: LinkReason | None = None
    detail: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardHealth:
    """How the wire stands at a tick: `board` is the newest report of a living session, `age_s` its age.

    Without a session, and where the board itself ended the last one, it is the report that said so.

    `boards`: each of several boards while there is a session, and without one whatever was lost.
    """

    linked: bool
    age_s: float
    board: BoardState | None = None
    boards: tuple[BoardStanding, ...] = ()


UNLINKED = BoardHealth(linked=False, age_s=0.0)
