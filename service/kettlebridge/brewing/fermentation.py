"""Whether a beer has fermented out: two equal gravities days apart say so, and never a date."""

from __future__ import annotations

from collections.abc import Sequence
from enum import Enum

from kettlebridge.model.fermentation import FermentReading, ProbeReading
from kettlebridge.model.units import S_PER_DAY

DAYS_APART = 2.0
EQUAL_SG = 0.001
"""Equal to what a hydrometer can be read to, two days apart (common practice, no source)."""
STUCK_OVER_SG = 0.004
"""So much above what the yeast was to reach, it may only have stopped for a while (common practice, no source)."""


class Ferment(Enum):
    """How a fermentation stands."""

    UNKNOWN = "unknown"
    FALLING = "falling"
    RISING = "rising"
    TOO_SOON = "too_soon"
    STUCK = "stuck"
    READY = "ready"


def with_probe(by_hand: Sequence[FermentReading], told: Sequence[ProbeReading]) -> tuple[FermentReading, ...]:
    """All gravities in the order of their time; a probe's is at 20 °C by its own word."""
    by_probe = [
        FermentReading(at_utc_s=one.at_utc_s, read_sg=one.gravity_sg, at_c=one.at_c, gravity_sg=one.gravity_sg)
        for one in told
        if one.gravity_sg is not None
    ]
    return tuple(sorted((*by_hand, *by_probe), key=lambda one: one.at_utc_s))


def standing(readings: Sequence[FermentReading], expected_sg: float | None = None) -> Ferment:
    """Of readings in the order of their time; `expected_sg` None: what it is to reach is not known.

    RISING: no beer gains gravity, so a reading is wrong. STUCK: equal, but far above `expected_sg`.
    """
    if len(readings) < 2:
        return Ferment.UNKNOWN
    last = readings[-1]
    steady = _steady_since(readings)
    if steady is last:
        return Ferment.RISING if last.gravity_sg > readings[-2].gravity_sg else Ferment.FALLING
    if last.at_utc_s - steady.at_utc_s < DAYS_APART * S_PER_DAY:
        return Ferment.TOO_SOON
    if expected_sg is not None and last.gravity_sg > expected_sg + STUCK_OVER_SG:
        return Ferment.STUCK
    return Ferment.READY


def _steady_since(readings: Sequence[FermentReading]) -> FermentReading:
    """The earliest reading from which all on to the last are equal to the last."""
    last = earliest = readings[-1]
    for reading in reversed(readings):
        if abs(reading.gravity_sg - last.gravity_sg) > EQUAL_SG + 1e-9:
            break
        earliest = reading
    return earliest
