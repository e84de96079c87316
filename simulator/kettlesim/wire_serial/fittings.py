"""What is soldered to a board and never changes while it runs."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, IntFlag


class Input(IntFlag):
    """Digital inputs: the bits of `d`."""

    LEVEL_LOW = 0x01
    FLOW = 0x02
    FOAM = 0x04
    CUTOUT = 0x08
    LOAD = 0x10
    CONFIRM = 0x20
    STOP = 0x40


LATCHING = Input.LEVEL_LOW | Input.FOAM | Input.CUTOUT | Input.STOP
"""Inputs at which the board itself drops heater and main contactor."""

NO_INPUT = Input(0)
ALL_INPUTS = ~NO_INPUT


class Cap(IntFlag):
    """What a board says it can do: the bits of `cap`."""

    HARDWARE_WATCHDOG = 0x01
    BROWN_OUT_RESET = 0x02
    LOW_IN_RESET = 0x04
    INPUTS = 0x08
    LOAD_SENSE = 0x10
    SIMULATED = 0x20


class Drive(Enum):
    """What switches the element, and which per mille it can take."""

    SSR = "ssr"
    CONTACTOR = "contactor"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fittings:
    """`id` is the board's own; `first_up_ms` is its uptime at a reset: 0, or near 2**32 to show the wrap."""

    id: str = "28A4"
    drive: Drive = Drive.SSR
    longest_ttl_ms: int = 5000
    cap: Cap = ~Cap(0)
    inputs: Input = ALL_INPUTS
    boot_ms: int = 300
    first_up_ms: int = 0
