"""How the rest of a day is expected to go. Estimates for people; nothing that acts goes by them."""

from __future__ import annotations

from dataclasses import dataclass

BAND_SPREADS = 1.28
"""Spreads (one standard deviation) either side of the median that hold eight of ten."""


@dataclass(frozen=True, slots=True, kw_only=True)
class When:
    """A batch time that is not quite known: its median, and one standard deviation."""

    at_s: float
    spread_s: float

    @property
    def early_s(self) -> float:
        """One time in ten it is earlier than this."""
        return self.at_s - BAND_SPREADS * self.spread_s

    @property
    def late_s(self) -> float:
        """One time in ten it is later than this."""
        return self.at_s + BAND_SPREADS * self.spread_s


@dataclass(frozen=True, slots=True, kw_only=True)
class StepTimes:
    """A step in hand or to come. Of the one in hand `begins` is when it began."""

    index: int
    begins: When
    ends: When


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """Somebody is needed: at which step, for a call of which `kind`, about what (an addition's name, an ask's kind).

    `hands_s`: for how long both hands are busy with it.
    """

    index: int
    kind: str
    subject: str
    begins: When
    hands_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Spell:
    """Needs so close together that nobody goes away between them. `need` is the first; `lasts_s` to the last's end."""

    need: Need
    begins: When
    lasts_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """Seen at batch time `made_s`: the step in hand and all to come, every need, and the next spell, None: no more.

    `heats_from`: when heating begins, while it waits to be ready at a set time.
    """

    made_s: float
    steps: tuple[StepTimes, ...]
    needs: tuple[Need, ...]
    next_spell: Spell | None
    heats_from: When | None = None
