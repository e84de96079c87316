"""Everything a tick may know besides its plan and its own state."""

from __future__ import annotations

from dataclasses import dataclass

from kettlebridge.model.command import Command
from kettlebridge.model.reading import BoardHealth, Reading


@dataclass(frozen=True, slots=True, kw_only=True)
class Resumed:
    """The service was away: `away_s` of real time passed between the last journalled tick and this one."""

    away_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Inputs:
    """`now_s` is batch time, monotonic; `at_utc_s` wall time, for the journal and `ready_at` alone.

    `readings` are those that arrived since the last tick, oldest first. `heater_limit_fraction` is the
    circuit's grant (0-1). `resumed` is set in the first tick after an outage. `journal_failing` is true
    while rows cannot be written. `clock_synchronised`: `at_utc_s` is held by a time service; only asked where there are
    commands, for one that arms.
    """

    now_s: float
    at_utc_s: float
    readings: tuple[Reading, ...] = ()
    health: BoardHealth
    commands: tuple[Command, ...] = ()
    heater_limit_fraction: float = 0.0
    resumed: Resumed | None = None
    journal_failing: bool = False
    clock_synchronised: bool = False
