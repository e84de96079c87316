"""What a thousand days without a false trip can rule out."""

from __future__ import annotations

import pytest

from tests.campaign.counting import most_expected


@pytest.mark.parametrize(("count", "mean"), [(0, 2.996), (1, 4.744), (2, 6.296), (5, 10.513), (10, 16.962)])
def test_upper_limits_are_those_of_the_tables(count: int, mean: float) -> None:
    """F. Garwood, Biometrika 28 (1936) 437: 95 %, one-sided; half the quantile of chi-square."""
    assert most_expected(count) == pytest.approx(mean, abs=0.001)
