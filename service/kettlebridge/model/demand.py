"""What the controller wants of an output."""

from __future__ import annotations

from enum import Enum
from typing import NamedTuple


class Output(Enum):
    """The outputs a board may have. The main contactor stands before the heater's own SSR or contactor."""

    HEATER = "heater"
    PUMP = "pump"
    MAIN_CONTACTOR = "main_contactor"
    BUZZER = "buzzer"


class Demand(NamedTuple):
    """`permille` 0-1000 (pump and main contactor 0 or 1000; buzzer: the pattern number 0-9).

    `ttl_ms` is the lease: for how long after the report named by `acted_on` the board may keep the output on.
    """

    output: Output
    permille: int
    ttl_ms: int
    acted_on: int
