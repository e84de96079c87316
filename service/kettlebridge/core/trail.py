"""The control temperature over the last minute, coarse enough to be cheap and long enough to judge a slope."""

from __future__ import annotations

from typing import NamedTuple

EVERY_S = 10.0
KEPT = 7


class Trail(NamedTuple):
    """`values_c` are means over 10 s, oldest first, seven at most, `duties` the least duty given in each of them.

    `sum_c` over `filled` ticks and `duty_fraction` fill the next one.
    """

    values_c: tuple[float, ...] = ()
    duties: tuple[float, ...] = ()
    sum_c: float = 0.0
    duty_fraction: float = 0.0
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

    @property
    def least_duty_fraction(self) -> float:
        """The least duty of that minute and since."""
        return min(self.duty_fraction, min(self.duties, default=0.0))


NO_TRAIL = Trail()


def followed(trail: Trail, control_c: float | None, duty_fraction: float, now_s: float) -> Trail:
    """The trail after one more tick, in which the heater was given that duty; no temperature begins it anew."""
    if control_c is None:
        return NO_TRAIL if trail.filled else trail
    values_c, duties, sum_c, least_fraction, filled, begun_s = trail
    if not filled:
        return Trail(values_c, duties, control_c, duty_fraction, 1, now_s)
    if now_s - begun_s >= EVERY_S:
        values_c = (*values_c, sum_c / filled)[-KEPT:]
        return Trail(values_c, (*duties, least_fraction)[-KEPT:], control_c, duty_fraction, 1, now_s)
    return Trail(values_c, duties, sum_c + control_c, min(least_fraction, duty_fraction), filled + 1, begun_s)
