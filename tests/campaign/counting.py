"""What a count of rare things can rule out."""

from __future__ import annotations

import math

DOUBT = 0.05


def most_expected(count: int) -> float:
    """The largest mean at which so few are still seen once in twenty times: Poisson, one-sided (Garwood 1936)."""
    low, high = 0.0, 10.0 + 3.0 * count
    while high - low > 1e-9:
        middle = 0.5 * (low + high)
        seen = math.exp(-middle) * math.fsum(middle**each / math.factorial(each) for each in range(count + 1))
        low, high = (middle, high) if seen > DOUBT else (low, middle)
    return high
