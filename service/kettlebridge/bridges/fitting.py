"""What the module of each kind of bridge has to offer, and what it is given."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from typing import Any

from kettlebridge.files.kettle_file import Board
from kettlebridge.model.kettle import Kettle
from kettlebridge.ports import Bridge, Clock


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitting:
    """What a driver is made for. `require_simulated` refuses a board that does not say it is simulated."""

    kettle: Kettle
    board: Board
    require_simulated: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Driver:
    """A kind of bridge: `settings` out of a kettle file, the bridge they make, and "all off" without one."""

    settings: Callable[[Any, Fitting], Any]
    bridge: Callable[[Any, Clock], Bridge]
    switch_off: Callable[[Any, Clock], Awaitable[None]]
