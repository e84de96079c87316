"""Figures of a kettle file as the last batches found them, with their spread."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import fsum, sqrt

from kettlebridge.brewing.brewed import Brewed, added_l
from kettlebridge.brewing.cautions import ABSORPTION_L_PER_KG
from kettlebridge.brewing.day import Day
from kettlebridge.brewing.timetable import climb_vapour_l
from kettlebridge.model.plan import Plan

LEAST_BATCHES = 2
"""One batch is an anecdote."""
BOIL_OFF_L_PER_H = (0.3, 12.0)
"""Beyond it a measurement is more likely wrong than a kettle so odd (estimate)."""
HELD = frozenset({"boil_off_l_per_h"})
"""A boil is held at this figure by heater and losses as the file has them: what differs is theirs, not the figure's."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """`key` of `[kettle]`. `spread` is the standard deviation of a single batch, None for one alone."""

    key: str
    now: float
    found: float
    spread: float | None
    batches: int

    @property
    def worth_taking(self) -> bool:
        """Differs, and is the kettle's own: written, it would make the next plan come true."""
        return self.differs and self.key not in HELD

    @property
    def differs(self) -> bool:
        """More than one batch, and further from the file than the mean of them is uncertain."""
        if self.spread is None or self.batches < LEAST_BATCHES:
            return False
        return abs(self.found - self.now) > self.spread / sqrt(self.batches)


def proposals(days: Sequence[tuple[Plan, Brewed]], now: Mapping[str, float]) -> tuple[Proposal, ...]:
    """From batches of one kettle; `now` is what its file says, by key. Nothing where nothing was measured."""
    boil_off = [day.boil_off_l_per_h(climb_vapour_l(plan.kettle, Day()), added_l(plan)) for plan, day in days]
    absorption = [day.absorption_l_per_kg for _, day in days]
    columns = (
        ("boil_off_l_per_h", boil_off, BOIL_OFF_L_PER_H),
        ("grain_absorption_l_per_kg", absorption, ABSORPTION_L_PER_KG),
    )
    found = (_proposal(key, now[key], values, bounds) for key, values, bounds in columns)
    return tuple(each for each in found if each is not None)


def _proposal(key: str, now: float, values: Sequence[float | None], bounds: tuple[float, float]) -> Proposal | None:
    known = [value for value in values if value is not None and bounds[0] <= value <= bounds[1]]
    if not known:
        return None
    mean = fsum(known) / len(known)
    spread = None
    if len(known) >= LEAST_BATCHES:
        spread = sqrt(fsum((value - mean) ** 2 for value in known) / (len(known) - 1))
    return Proposal(key=key, now=now, found=mean, spread=spread, batches=len(known))
