"""What a fault may lay hands on, and take its hands off again. One description of a fault serves whoever has a rig.

`Rig` is the kettle and its board: a day without a wire has it as well as a board on one. What only one of them has is
a rig of its own, and a fault that needs that says so by its type.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from kettlesim.world import World

Change = Callable[[float, float], float | None]
"""From what a probe reads and the seconds since the fault began to what it tells; None for silence."""


class Rig(Protocol):
    """A kettle and its board."""

    @property
    def world(self) -> World:
        """The kettle."""

    def weld(self, *switches: str) -> None:
        """`heater`, `contactor`, `pump`: on whatever is demanded, and the board does not know."""

    def unweld(self, *switches: str) -> None:
        """Those switches are sound again."""

    def stick_heater(self) -> None:
        """The board's own output is on, and it says so."""

    def free_heater(self) -> None:
        """The board's own output follows again."""

    def press(self, name: str) -> None:
        """`foam`, `level`, `cutout`, `stop`: that input is on from now on."""

    def release(self, name: str) -> None:
        """That input says again what is so."""

    def probe(self, role: str, change: Change) -> None:
        """What the first probe of that role tells from now on."""

    def sound_probe(self, role: str) -> None:
        """It tells again what it reads."""

    def unlink(self) -> None:
        """The board is heard no more, and hears nothing."""

    def link(self) -> None:
        """It is heard again."""

    def restart_board(self) -> None:
        """The board's own time begins anew."""


class DayRig(Rig, Protocol):
    """A day without a wire has its brewer and its host in hand too."""

    def leave(self) -> None:
        """The brewer goes away."""

    def suspend(self, away_s: float) -> None:
        """The host sleeps."""


class CableRig(Rig, Protocol):
    """A board on a wire has its cable."""

    def loosen(self, lost_fraction: float) -> None:
        """So many of the frames are lost from now on, each way. `link` undoes it."""
