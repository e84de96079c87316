"""A straight line through points, and how sure its slope is."""

from __future__ import annotations

from collections.abc import Sequence
from math import fsum, inf, sqrt
from typing import NamedTuple


class Slope(NamedTuple):
    """`spread` is one standard deviation, by the scatter about the line."""

    value: float
    spread: float


def slope_of(points: Sequence[tuple[float, float]]) -> Slope:
    """Least squares. Raises ValueError for fewer than three points, or all at one place."""
    count = len(points)
    if count < 3:  # two points have no scatter
        raise ValueError("a line needs three points to show its scatter")
    mean_x, mean_y = fsum(x for x, _ in points) / count, fsum(y for _, y in points) / count
    over = fsum((x - mean_x) ** 2 for x, _ in points)
    if over == 0.0:
        raise ValueError("all points are at one place")
    slope = fsum((x - mean_x) * (y - mean_y) for x, y in points) / over
    off = fsum((y - mean_y - slope * (x - mean_x)) ** 2 for x, y in points)
    spread = sqrt(off / (count - 2) / over) if off > 0.0 else 0.0
    return Slope(value=slope, spread=spread if spread < inf else 0.0)
