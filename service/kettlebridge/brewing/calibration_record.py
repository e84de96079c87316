"""The record of a calibration as the sums need it: temperatures of a step, litres, heat, the begin of the boil."""

from __future__ import annotations

from dataclasses import dataclass

from kettlebridge.brewing.calibration_day import BOIL, FILL
from kettlebridge.brewing.mash import water_capacity_j_per_k
from kettlebridge.brewing.vessel import wetted_steel_j_per_k
from kettlebridge.model.event import EventCode
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.trace import Trace


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What the record cannot know: litres on the scale (cold), what boiled at, the room. None: not measured."""

    boil_c: float
    room_c: float
    after_boil_l: float | None = None
    left_l: float | None = None


class Unmeasured(ValueError):  # noqa: N818  # not an error: a part that was left out
    """That part was skipped."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """`ice_c` and `boiling_c`: what the control probe showed there, where both are known."""

    kettle: Kettle
    trace: Trace
    told: Told
    ice_c: float | None = None
    boiling_c: float | None = None

    def points(self, name: str, least: float = -1.0, most: float = 2.0) -> list[tuple[float, float]]:
        """Time and temperature of a step, where the heater's share was between these."""
        span = next((span for span in self.trace.spans if span.name == name), None)
        if span is None or span.ended_s is None:
            raise Unmeasured(name)
        series = self.trace.series
        rows = zip(series.at_s, series.temperature_c, series.heater_fraction, strict=True)
        return [
            (at_s - span.begun_s, self.true_c(read_c))
            for at_s, read_c, share in rows
            if span.begun_s <= at_s <= span.ended_s and read_c is not None and least <= share <= most
        ]

    def true_c(self, shown_c: float) -> float:
        """By both points, where they were taken."""
        if self.ice_c is None or self.boiling_c is None:
            return shown_c
        return (shown_c - self.ice_c) * self.told.boil_c / (self.boiling_c - self.ice_c)

    @property
    def poured_l(self) -> float:
        """Into the kettle. Raises Unmeasured."""
        asked = (each for each in self.trace.happenings if each.event.code is EventCode.STEP_DONE)
        done = next((each for each in asked if each.event.get("step") == FILL), None)
        if done is None or done.seen.volume_l is None:
            raise Unmeasured(FILL)
        return done.seen.volume_l

    @property
    def heat_j_per_k(self) -> float:
        """Of water and vessel."""
        return water_capacity_j_per_k(self.poured_l) + wetted_steel_j_per_k(self.kettle, self.poured_l)

    @property
    def boils_s(self) -> float:
        """Since when. Raises Unmeasured."""
        found = (each.at_s for each in self.trace.happenings if each.event.code is EventCode.BOIL_FOUND)
        boils_s = next(found, None)
        if boils_s is None:
            raise Unmeasured(BOIL)
        return boils_s
