"""Between the rows of a published table, on a straight line."""

from __future__ import annotations

from collections.abc import Sequence


def between(marks: Sequence[float], value: float) -> tuple[int, float]:
    """The interval of rising `marks` that holds `value`, and how far along it stands, 0 to 1; outside, the edge."""
    place = 0
    while place < len(marks) - 2 and value >= marks[place + 1]:
        place += 1
    along = (value - marks[place]) / (marks[place + 1] - marks[place])
    return place, min(max(along, 0.0), 1.0)


def looked_up(marks: Sequence[float], column: Sequence[float], value: float) -> float:
    """The value of `column` that belongs to `value` among `marks`."""
    place, along = between(marks, value)
    return column[place] * (1.0 - along) + column[place + 1] * along
