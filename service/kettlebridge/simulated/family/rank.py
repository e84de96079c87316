"""Many courses as medians, 95th percentiles and failures."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Summary:
    """Of one metric over the family; None where no course has a figure."""

    median: float | None
    p95: float | None
    failed: int


def quantile(ordered: list[float], fraction: float) -> float:
    """Between neighbours by straight line, as most statistics programs do by default."""
    place = fraction * (len(ordered) - 1)
    low = math.floor(place)
    high = min(low + 1, len(ordered) - 1)
    return ordered[low] + (place - low) * (ordered[high] - ordered[low])


def summary(figures: list[float | None]) -> Summary:
    """Of one regulator's figures; a None is a failure."""
    known = sorted(figure for figure in figures if figure is not None)
    failed = len(figures) - len(known)
    if not known:
        return Summary(median=None, p95=None, failed=failed)
    return Summary(median=quantile(known, 0.5), p95=quantile(known, 0.95), failed=failed)
