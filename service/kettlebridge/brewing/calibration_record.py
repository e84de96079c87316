"""The record of a calibration as the sums need it: temperatures of a step, litres, heat, the begin of the boil."""

from __future__ import annotations

from dataclasses import dataclass
from math import fsum

from kettlebridge.brewing.calibration_day import BOIL, EMPTY, FILL, LITRES
from kettlebridge.brewing.mash import water_capacity_j_per_k
from kettlebridge.brewing.vessel import wetted_steel_j_per_k
from kettlebridge.model.event import EventCode
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.trace import Span, Trace


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What the record need not know: litres on the scale (cold), what boiled at, the room. None: not told."""

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
        begun_s, ended_s = self._ended(name)
        series = self.trace.series
        rows = zip(series.at_s, series.temperature_c, series.heater_fraction, strict=True)
        return [
            (at_s - begun_s, self.true_c(read_c))
            for at_s, read_c, share in rows
            if begun_s <= at_s <= ended_s and read_c is not None and least <= share <= most
        ]

    def true_c(self, shown_c: float) -> float:
        """By both points, where they were taken."""
        if self.ice_c is None or self.boiling_c is None:
            return shown_c
        return (shown_c - self.ice_c) * self.told.boil_c / (self.boiling_c - self.ice_c)

    @property
    def poured_l(self) -> float:
        """Into the kettle. Raises Unmeasured."""
        ended = self.trace.of(EventCode.STEP_DONE)
        done = next((each for each in ended if each.event.get("step") == FILL), None)
        if done is None or done.seen.volume_l is None:
            raise Unmeasured(FILL)
        return done.seen.volume_l

    @property
    def heat_j_per_k(self) -> float:
        """Of water and vessel."""
        return water_capacity_j_per_k(self.poured_l) + wetted_steel_j_per_k(self.kettle, self.poured_l)

    @property
    def boiled_s(self) -> float:
        """For how long. Raises Unmeasured."""
        boils_s, ended_s = self._boil()
        return ended_s - boils_s

    @property
    def boiling_fraction(self) -> float:
        """Mean share of full power that the heater had while it boiled. Raises Unmeasured."""
        boils_s, ended_s = self._boil()
        series = self.trace.series
        rows = zip(series.at_s, series.heater_fraction, strict=True)
        shares = [share for at_s, share in rows if boils_s <= at_s <= ended_s]
        if not shares:
            raise Unmeasured(BOIL)
        return fsum(shares) / len(shares)

    @property
    def after_boil_l(self) -> float:
        """As told, or else as measured in the record. Raises Unmeasured, or ValueError where it was only forgotten."""
        if self.told.after_boil_l is not None:
            return self.told.after_boil_l
        _, ended_s = self._boil()
        read = (each.event.number("volume_l") for each in self.trace.of(EventCode.MEASURED) if each.at_s >= ended_s)
        litres = [volume_l for volume_l in read if volume_l is not None]
        if litres:
            return litres[-1]
        self._wanted(LITRES)
        raise ValueError("it needs the litres that the boil left, read off the scale: --after-boil L")

    @property
    def left_l(self) -> float:
        """As told. Raises Unmeasured, or ValueError where it was only forgotten."""
        if self.told.left_l is None:
            self._wanted(EMPTY)
            raise ValueError("it needs the litres that draining left, measured: --left L")
        return self.told.left_l

    def _boil(self) -> tuple[float, float]:
        """From when to when it boiled."""
        boils_s, (_, ended_s) = self.trace.boil_began_s, self._ended(BOIL)
        if boils_s is None or boils_s >= ended_s:
            raise Unmeasured(BOIL)
        return boils_s, ended_s

    def _ended(self, name: str) -> tuple[float, float]:
        """Begin and end of a step that was lived to its end. Raises Unmeasured."""
        span = self._wanted(name)
        if span.ended_s is None:
            raise Unmeasured(name)
        return span.begun_s, span.ended_s

    def _wanted(self, name: str) -> Span:
        """A step that was begun. Raises Unmeasured."""
        span = next((span for span in self.trace.spans if span.name == name), None)
        if span is None:
            raise Unmeasured(name)
        return span
