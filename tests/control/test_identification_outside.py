"""Published ways to identify a plant, by python-control: two points, tangent, residence time, relay; and its own tools.

Two points and tangent: Åström and Hägglund, PID Controllers (1995), from memory. Relay: the same, Automatica 20 (1984)
645, from memory; the figures of each were computed, not read. A kettle is identified otherwise (`core.identify`):
from its climb at full power, since no step or relay can be played on it before a brew.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import control
import numpy as np
import pytest

from tests.control.loops import OMEGA, product

LAG = (1.0, 1.0)


def lags(count: int) -> control.TransferFunction:
    """1/(s+1)^count."""
    return control.tf([1.0], list(product(*(LAG,) * count)))


def test_two_points_of_a_step_response_identify_four_lags() -> None:
    """28.3 and 63.2 % of 1/(s+1)^4: T = 1.5 (t63 - t28) = 2.4968, L = t63 - T = 1.8545."""
    t = np.linspace(0.0, 20.0, 200_001)
    _, output = control.step_response(lags(4), t)
    t28, t63 = (float(np.interp(1.0 - math.exp(-share), output, t)) for share in (1.0 / 3.0, 1.0))
    assert (t28, t63) == pytest.approx((2.6868, 4.3513), abs=3e-3)
    lag = 1.5 * (t63 - t28)
    assert (lag, t63 - lag) == pytest.approx((2.4968, 1.8545), abs=5e-3)


def test_a_tangent_at_the_steepest_place_sees_more_lag_than_there_is() -> None:
    """1/(s+1)^4: steepest at t = 3, where y = 0.352768 rises by 0.224042 (27/6 e^-3): L = 1.4254, T = 4.4635. To 1e-4.

    The residence time, the area over the response, is 4; lag and delay by the tangent make 5.89 of it.
    """
    t = np.linspace(0.0, 40.0, 40_001)
    _, output = control.step_response(lags(4), t)
    slope = np.gradient(output, t)
    at = int(np.argmax(slope))
    assert t[at] == pytest.approx(3.0, abs=2e-3)
    assert (output[at], slope[at]) == pytest.approx((0.352768, 4.5 * math.exp(-3.0)), abs=3e-4)
    lag, delay = 1.0 / slope[at], t[at] - output[at] / slope[at]
    assert (delay, lag) == pytest.approx((1.4254, 4.4635), abs=1e-4)
    assert np.trapezoid(1.0 - output, t) == pytest.approx(4.0, abs=1e-4)
    assert delay + lag > 1.4 * 4.0


class Relayed(NamedTuple):
    """Of e^-s/(lag s + 1): true ultimate gain and period; a relay's amplitude, period, gain, how far that is off."""

    lag: float
    ultimate_gain: float
    ultimate_period: float
    amplitude: float
    period: float
    seen_gain: float
    off_fraction: float


RELAYED = (
    Relayed(1.0, 2.2618, 3.0971, 0.6321, 2.9798, 2.0142, -0.109),
    Relayed(5.0, 8.5024, 3.7208, 0.1813, 3.6659, 7.0240, -0.174),
    Relayed(10.0, 16.3506, 3.8500, 0.0952, 3.8181, 13.3796, -0.182),
)
of_each_lag = pytest.mark.parametrize("row", RELAYED, ids=lambda row: f"lag {row.lag:g}")


@of_each_lag
def test_the_true_ultimate_gain_and_period_are_known(row: Relayed) -> None:
    """To 0.1 %."""
    magnitude, phase, omega = control.frequency_response(control.tf([1.0], [row.lag, 1.0]), OMEGA)
    turned = np.interp(math.pi, -(np.ravel(phase) - omega), omega)
    assert 2.0 * math.pi / turned == pytest.approx(row.ultimate_period, rel=1e-3)
    assert 1.0 / np.interp(turned, omega, np.ravel(magnitude)) == pytest.approx(row.ultimate_gain, rel=1e-3)


@of_each_lag
def test_a_relay_swings_as_the_formulas_say(row: Relayed) -> None:
    """1 - e^(-L/T) and 2T ln(2e^(L/T) - 1) to their last digit; the simulated relay to 0.5 %."""
    steep = math.exp(1.0 / row.lag)
    exact = (1.0 - 1.0 / steep, 2.0 * row.lag * math.log(2.0 * steep - 1.0))
    assert exact == pytest.approx((row.amplitude, row.period), abs=6e-5)
    assert relayed(row.lag) == pytest.approx(exact, rel=5e-3)


@of_each_lag
def test_a_relay_sees_a_tenth_to_a_fifth_less_gain_than_there_is(row: Relayed) -> None:
    """4d/(pi a) by the describing function. To 1e-4 of the gain, 0.001 of the share."""
    seen = 4.0 / (math.pi * (1.0 - math.exp(-1.0 / row.lag)))
    assert seen == pytest.approx(row.seen_gain, abs=1e-4)
    assert 4.0 / (math.pi * relayed(row.lag)[0]) == pytest.approx(row.seen_gain, rel=5e-3)
    assert seen / row.ultimate_gain - 1.0 == pytest.approx(row.off_fraction, abs=1e-3)


def relayed(lag: float, *, dt: float = 1e-3) -> tuple[float, float]:
    """Amplitude and period under a relay of ±1 with a dead time of 1, once they repeat."""
    delayed = [1.0] * round(1.0 / dt)
    output, switched, highest = 0.0, [], 0.0
    decay = math.exp(-dt / lag)
    side = 1.0
    for step in range(round(60.0 / dt)):
        if output > 0.0 and side > 0.0:
            side = -1.0
            switched.append(step * dt)
        elif output < 0.0 and side < 0.0:
            side = 1.0
        slot = step % len(delayed)
        acting, delayed[slot] = delayed[slot], side
        output = acting + (output - acting) * decay
        if step * dt > 40.0:
            highest = max(highest, output)
    return highest, switched[-1] - switched[-2]


@pytest.mark.parametrize(("count", "margin", "omega"), [(3, 8.0, math.sqrt(3.0)), (4, 4.0, 1.0)])
def test_equal_lags_have_their_known_gain_margin(count: int, margin: float, omega: float) -> None:
    """Of n: they turn by 180 degrees at tan(pi/n), where they pass 1/sec(pi/n)^n (a textbook exercise)."""
    assert omega == pytest.approx(math.tan(math.pi / count))
    gm, _, at, _ = control.margin(lags(count))
    assert (gm, at) == pytest.approx((margin, omega), rel=1e-6)


def test_the_delays_of_these_tests_are_pades() -> None:
    """Third order for a delay of 1: (120 - 60s + 12s² - s³)/(120 + 60s + 12s² + s³), a textbook's table. Exact."""
    num, den = control.pade(1.0, 3)
    assert num == pytest.approx([-1.0, 12.0, -60.0, 120.0])
    assert den == pytest.approx([1.0, 12.0, 60.0, 120.0])


def test_half_damping_overshoots_by_a_sixth() -> None:
    """Second order, zeta = 0.5: exp(-pi zeta/sqrt(1 - zeta²)) = 16.303 %. To 0.001 %."""
    t = np.linspace(0.0, 20.0, 200_001)
    _, output = control.step_response(control.tf([1.0], [1.0, 1.0, 1.0]), t)
    assert 100.0 * (max(output) - 1.0) == pytest.approx(16.303, abs=1e-3)
