"""The tuning rule against the outside: python-control's frequency and step responses, and published margins.

Published: S. Skogestad, J. Process Control 13 (2003) 291-309, tables of gains and of Ms, gain and phase margin.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import control
import numpy as np
import pytest

from kettlebridge.core.regulator import simc

OMEGA = np.logspace(-3.0, 2.5, 100_001)


@dataclass(frozen=True, kw_only=True)
class Case:
    """A plant (`num`/`den` and `delay`), the first-order model the rule is given, and what is published of the loop."""

    num: tuple[float, ...]
    den: tuple[float, ...]
    delay: float
    model: tuple[float, float, float | None]  # k / tau_1, theta, tau_1
    gain: float
    integral: float
    ms: float
    gm: float
    pm: float


def product(*factors: tuple[float, ...]) -> tuple[float, ...]:
    whole = np.array([1.0])
    for factor in factors:
        whole = np.polymul(whole, factor)
    return tuple(whole)


FAST = product((0.05, 1.0), (0.05, 1.0), (0.05, 1.0))
CASES = {
    "lag and delay": Case(
        num=(1.0,), den=(5.0, 1.0), delay=1.0, model=(0.2, 1.0, 5.0), gain=2.5, integral=5.0,
        ms=1.590, gm=3.141, pm=61.35
    ),
    "integrator and delay": Case(
        num=(1.0,), den=(1.0, 0.0), delay=1.0, model=(1.0, 1.0, None), gain=0.5, integral=8.0,
        ms=1.704, gm=2.963, pm=46.86
    ),
    "long lag and delay": Case(
        num=(1.0,), den=(50.0, 1.0), delay=1.0, model=(0.02, 1.0, 50.0), gain=25.0, integral=8.0,
        ms=1.681, gm=2.992, pm=49.1
    ),
    "E1": Case(
        num=(1.0,), den=product((1.0, 1.0), (0.2, 1.0)), delay=0.0,
        model=(1.0 / 1.1, 0.1, 1.1), gain=5.5, integral=0.8, ms=1.56, gm=math.inf, pm=46.5,
    ),
    "E2": Case(
        num=product((-0.3, 1.0), (0.08, 1.0)), den=product((2.0, 1.0), (1.0, 1.0), (0.4, 1.0), (0.2, 1.0), FAST),
        delay=0.0,
        model=(1.0 / 2.5, 1.47, 2.5), gain=0.850, integral=2.5, ms=1.662, gm=3.37, pm=57.8,
    ),
    "four lags": Case(
        num=(1.0,), den=product((1.0, 1.0), (1.0, 1.0), (1.0, 1.0), (1.0, 1.0)), delay=0.0,
        model=(1.0 / 1.5, 2.5, 1.5), gain=0.30, integral=1.5, ms=1.463, gm=4.94, pm=62.4,
    ),
}  # fmt: skip


def loop_response(case: Case, gain: float, integral: float) -> Any:
    """The open loop over OMEGA, the delay exact."""
    pi = control.tf([gain * integral, gain], [integral, 0.0])
    rational = pi * control.tf(list(case.num), list(case.den))
    return np.asarray(rational(1j * OMEGA)) * np.exp(-1j * OMEGA * case.delay)


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_the_rule_gives_the_published_gains_and_margins(case: Case) -> None:
    tuned = simc(*case.model)
    assert tuned.gain_per_c == pytest.approx(case.gain, rel=0.005)
    assert tuned.integral_s == pytest.approx(case.integral, rel=0.005)
    loop = loop_response(case, tuned.gain_per_c, tuned.integral_s)
    magnitude, phase = np.abs(loop), np.unwrap(np.angle(loop))
    assert np.max(np.abs(1.0 / (1.0 + loop))) == pytest.approx(case.ms, abs=0.012)
    crossed = np.flatnonzero((magnitude[:-1] > 1.0) & (magnitude[1:] <= 1.0))
    assert 180.0 + math.degrees(phase[crossed[0]]) == pytest.approx(case.pm, abs=0.4)
    turned = np.flatnonzero((phase[:-1] > -math.pi) & (phase[1:] <= -math.pi))
    gm = 1.0 / magnitude[turned[0]] if len(turned) else math.inf
    assert gm == pytest.approx(case.gm, rel=0.01)


def closed_loop() -> tuple[control.TransferFunction, control.TransferFunction]:
    """The rule's loop over e^-s/(5s + 1): set-point to output, and load at the plant's input to output."""
    tuned = simc(0.2, 1.0, 5.0)
    pi = control.tf([tuned.gain_per_c * tuned.integral_s, tuned.gain_per_c], [tuned.integral_s, 0.0])
    plant = control.tf([1.0], [5.0, 1.0]) * control.tf(*control.pade(1.0, 10))
    return control.feedback(pi * plant), control.feedback(plant, pi)


def test_step_figures_of_the_loop() -> None:
    """Overshoot 4.07 %, IAE 2.168 theta, and tau_I/Kc for a load step (computed with the exact delay)."""
    follows, resists = closed_loop()
    t = np.linspace(0.0, 60.0, 12_001)
    _, output = control.step_response(follows, t)
    assert (max(output) - 1.0) * 100.0 == pytest.approx(4.07, abs=0.05)
    assert np.trapezoid(np.abs(1.0 - output), t) == pytest.approx(2.168, abs=0.01)
    _, pushed = control.step_response(resists, t)
    assert np.trapezoid(np.abs(pushed), t) == pytest.approx(2.0, abs=0.01)


def test_two_points_of_a_step_response_identify_four_lags() -> None:
    """28.3 and 63.2 % of 1/(s+1)^4: T = 1.5 (t63 - t28) = 2.4968, L = t63 - T = 1.8545."""
    t = np.linspace(0.0, 20.0, 200_001)
    _, output = control.step_response(control.tf([1.0], list(CASES["four lags"].den)), t)
    t28, t63 = (float(np.interp(1.0 - math.exp(-share), output, t)) for share in (1.0 / 3.0, 1.0))
    assert (t28, t63) == pytest.approx((2.6868, 4.3513), abs=3e-3)
    lag = 1.5 * (t63 - t28)
    assert (lag, t63 - lag) == pytest.approx((2.4968, 1.8545), abs=5e-3)


@pytest.mark.parametrize(
    ("lag", "ultimate_gain", "ultimate_period", "amplitude", "period"),
    [
        (1.0, 2.2618, 3.0971, 0.6321, 2.9798),
        (5.0, 8.5024, 3.7208, 0.1813, 3.6659),
        (10.0, 16.3506, 3.85, 0.0952, 3.8181),
    ],
)
def test_a_relay_identifies_a_lag_with_delay_only_roughly(
    lag: float, ultimate_gain: float, ultimate_period: float, amplitude: float, period: float
) -> None:
    """Åström and Hägglund's relay on e^-s/(lag s + 1): what it sees, and the true ultimate gain from python-control."""
    magnitude, phase, omega = control.frequency_response(control.tf([1.0], [lag, 1.0]), OMEGA)
    turned = np.interp(math.pi, -(np.ravel(phase) - omega), omega)
    assert 2.0 * math.pi / turned == pytest.approx(ultimate_period, rel=1e-3)
    assert 1.0 / np.interp(turned, omega, np.ravel(magnitude)) == pytest.approx(ultimate_gain, rel=1e-3)
    seen_amplitude, seen_period = relayed(lag)
    assert (seen_amplitude, seen_period) == pytest.approx((amplitude, period), rel=5e-3)
    assert 4.0 / (math.pi * seen_amplitude) < 0.9 * ultimate_gain


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
