"""Whether a kettle's heat-ups change from batch to batch: less rise for its power, or a probe that is later. Pure.

One batch alone proves nothing: litres come from a jug, and mains and lid differ. The better one of the last two is held
against the median of those before them.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from enum import Enum
from typing import NamedTuple

from kettlebridge.model.event import Event, EventCode

NEWEST = 2
LEAST_BEFORE = 3
SLOWER_SHARE = 0.93
"""Of the earlier rise: mains of ±4 % and litres of ±3 % together stay within it (estimate)."""
LATER_SHARE, LATER_S = 1.4, 8.0


class Drift(Enum):
    """What has changed."""

    SLOWER = "slower"
    """It warms less for its power: scale on the element, one of several elements out, weak mains."""
    LATER = "later"
    """The probe answers later: it is dirty, has slipped in its pocket, or lost its paste."""


class Fit(NamedTuple):
    """What one batch's first heat-up came to: the rise over what file and litres promised, and the probe's delay."""

    rate_fraction: float
    delay_s: float


class Trend(NamedTuple):
    """`before` is the median of what came before, `now` the better one of the last two."""

    drift: Drift
    before: float
    now: float


def median(values: Iterable[float]) -> float:
    """The middle one, or the mean of the two in the middle."""
    ordered = sorted(values)
    half = len(ordered) // 2
    return ordered[half] if len(ordered) % 2 else 0.5 * (ordered[half - 1] + ordered[half])


def fit_of(events: Iterable[Event]) -> Fit | None:
    """From the events of a batch; None where nothing was learnt in it."""
    told = next((event for event in events if event.code is EventCode.HEAT_UP_FITTED), None)
    if told is None:
        return None
    rate_fraction, delay_s = told.number("rate_fraction"), told.number("delay_s")
    return None if rate_fraction is None or delay_s is None else Fit(rate_fraction=rate_fraction, delay_s=delay_s)


def trends(fits: Sequence[Fit]) -> tuple[Trend, ...]:
    """Of a kettle's batches, oldest first; nothing where there are too few."""
    if len(fits) < NEWEST + LEAST_BEFORE:
        return ()
    old, new = fits[:-NEWEST], fits[-NEWEST:]
    found: list[Trend] = []
    before, now = median(fit.rate_fraction for fit in old), max(fit.rate_fraction for fit in new)
    if now < SLOWER_SHARE * before:
        found.append(Trend(drift=Drift.SLOWER, before=before, now=now))
    before, now = median(fit.delay_s for fit in old), min(fit.delay_s for fit in new)
    if now > max(LATER_SHARE * before, before + LATER_S):
        found.append(Trend(drift=Drift.LATER, before=before, now=now))
    return tuple(found)
