"""The control temperature over the last minute, coarse enough to be cheap and long enough to judge a slope."""

from __future__ import annotations

from typing import NamedTuple

EVERY_S = 10.0
KEPT = 7


class Trail(NamedTuple):
    """`values_c` are means over 10 s, oldest first, seven at most; `sum_c` over `filled` ticks fills the next one."""

    values_c: tuple[float, ...] = ()
    sum_c: float = 0.0
    filled: int = 0
    begun_s: float = 0.0

    @property
    def whole(self) -> bool:
        """Whether a full minute has been seen."""
        return len(self.values_c) == KEPT

    @property
    def rise_c(self) -> float:
        """Rise over the last full minute; 0 until one has been seen."""
        return self.values_c[-1] - self.values_c[0] if self.whole else 0.0


NO_TRAIL = Trail()


def followed(trail: Trail, control_c: float | None, now_s: float) -> Trail:
    """The trail after one more tick; a missing temperature begins it anew."""
    if control_c is None:
        return NO_TRAIL if trail.filled or trail.values_c else trail
    if trail.filled and now_s - trail.begun_s >= EVERY_S:
        values_c = (*trail.values_c, trail.sum_c / trail.filled)[-KEPT:]
        return Trail(values_c=values_c, sum_c=control_c, filled=1, begun_s=now_s)
    begun_s = trail.begun_s if trail.filled else now_s
    return Trail(values_c=trail.values_c, sum_c=trail.sum_c + control_c, filled=trail.filled + 1, begun_s=begun_s)
