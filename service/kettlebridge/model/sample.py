"""What a bridge delivers: the same facts as `reading`, stamped on the Clock port instead of aged."""

from __future__ import annotations

from dataclasses import dataclass

from kettlebridge.model.ids import ProbeName
from kettlebridge.model.reading import BoardStanding, BoardState, ReadingFault


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """One conversion; `taken_s` is Clock time of its end. Exactly one of `value_c` and `fault` is set."""

    probe: ProbeName
    value_c: float | None = None
    fault: ReadingFault | None = None
    taken_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardReport:
    """A board's account of itself; `taken_s` is Clock time. `boards`: how each stands, where there are several.

    `ended`: the board says with it that it ended the session by itself; it is the last word of that session.
    """

    board: BoardState
    taken_s: float
    boards: tuple[BoardStanding, ...] = ()
    ended: bool = False
