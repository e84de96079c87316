"""The tuning rule against the outside: python-control's frequency and step responses, and published margins.

Published: S. Skogestad, J. Process Control 13 (2003) 291-309, tables of gains and of Ms, gain and phase margin, and the
half rule, all from memory: the paper gives two or three digits, the further ones here are computed. Tolerances: 0.5 %
of a gain, 0.012 of Ms, 1 % of a gain margin, 0.4 degrees of a phase margin, about what the published digits leave open.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import control
import numpy as np
import pytest

from kettlebridge.core.regulator import simc
from tests.control.loops import margins, open_loop, pid, product


@dataclass(frozen=True, kw_only=True)
class Case:
    """A plant (`num`/`den` and `delay`), the model the rule is given, and what is published of the loop.

    `derivative` is in series with the PI: (1 + derivative s).
    """

    num: tuple[float, ...]
    den: tuple[float, ...]
    delay: float = 0.0
    model: tuple[float, float, float | None]  # k / tau_1, theta, tau_1
    derivative: float = 0.0
    gain: float
    integral: float
    ms: float
    gm: float
    pm: float


FAST = product((0.05, 1.0), (0.05, 1.0), (0.05, 1.0))
E1_DEN = product((1.0, 1.0), (0.2, 1.0))
E2_NUM = product((-0.3, 1.0), (0.08, 1.0))
E2_DEN = product((2.0, 1.0), (1.0, 1.0), (0.4, 1.0), (0.2, 1.0), FAST)
FOUR_LAGS = product((1.0, 1.0), (1.0, 1.0), (1.0, 1.0), (1.0, 1.0))
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
        num=(1.0,), den=E1_DEN, model=(1.0 / 1.1, 0.1, 1.1), gain=5.5, integral=0.8, ms=1.56, gm=math.inf, pm=46.5,
    ),
    "E2": Case(
        num=E2_NUM, den=E2_DEN, model=(1.0 / 2.5, 1.47, 2.5), gain=0.850, integral=2.5, ms=1.662, gm=3.37, pm=57.8,
    ),
    "E2 with a derivative": Case(
        num=E2_NUM, den=E2_DEN, model=(1.0 / 2.0, 0.77, 2.0), derivative=1.2,
        gain=1.299, integral=2.0, ms=1.724, gm=2.90, pm=58.0,
    ),
    "four lags": Case(
        num=(1.0,), den=FOUR_LAGS, model=(1.0 / 1.5, 2.5, 1.5), gain=0.30, integral=1.5, ms=1.463, gm=4.94, pm=62.4,
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_the_rule_gives_the_published_gains_and_margins(case: Case) -> None:
    tuned = simc(*case.model)
    assert tuned.gain_per_c == pytest.approx(case.gain, rel=0.005)
    assert tuned.integral_s == pytest.approx(case.integral, rel=0.005)
    controller = pid(tuned.gain_per_c, tuned.integral_s) * control.tf([case.derivative, 1.0], [1.0])
    found = margins(open_loop(controller, control.tf(list(case.num), list(case.den)), case.delay))
    assert found.ms == pytest.approx(case.ms, abs=0.012)
    assert found.pm_deg == pytest.approx(case.pm, abs=0.4)
    assert found.gm == pytest.approx(case.gm, rel=0.01)


@pytest.mark.parametrize("lag", [0.5, 1.0, 2.0, 8.0])
def test_up_to_eight_delays_the_lag_does_not_bear_on_the_margins(lag: float) -> None:
    """The loop is e^-s/2s whatever the lag: a gain margin of pi and a phase margin of 90 degrees less half a radian."""
    tuned = simc(1.0 / lag, 1.0, lag)
    found = margins(open_loop(pid(tuned.gain_per_c, tuned.integral_s), control.tf([1.0], [lag, 1.0]), 1.0))
    assert found.ms == pytest.approx(1.590, abs=0.001)
    assert found.gm == pytest.approx(math.pi, rel=1e-3)
    assert found.pm_deg == pytest.approx(90.0 - math.degrees(0.5), abs=0.01)


def halved(lags: Sequence[float], inverse: float = 0.0, order: int = 1) -> tuple[float, ...]:
    """The half rule: the lags that are kept, the last with half of the next one, and behind them what is left as delay.

    `lags` from the longest on; `inverse` of zeros in the right half plane goes to the delay whole.
    """
    *kept, last = lags[:order]
    half = 0.5 * lags[order]
    return (*kept, last + half, half + math.fsum(lags[order + 1 :]) + inverse)


E2_LAGS = (2.0, 1.0, 0.4, 0.2 - 0.08, 0.05, 0.05, 0.05)
"""A zero of 0.08 takes its time off the lag of 0.2 (the paper's third rule for zeros, from memory)."""


@pytest.mark.parametrize(
    ("case", "reduced"),
    [
        ("E1", halved((1.0, 0.2))),
        ("E2", halved(E2_LAGS, inverse=0.3)),
        ("E2 with a derivative", halved(E2_LAGS, inverse=0.3, order=2)),
        ("four lags", halved((1.0, 1.0, 1.0, 1.0))),
    ],
)
def test_the_models_are_those_of_the_half_rule_and_keep_the_residence_time(
    case: str, reduced: tuple[float, ...]
) -> None:
    """The area over the plant's step response is the sum of lags and delay (to 0.2 % on this grid)."""
    rise, theta, tau_1 = CASES[case].model
    lags, delay = reduced[:-1], reduced[-1]
    assert (1.0 / rise, tau_1, theta) == pytest.approx((lags[0], lags[0], delay))
    assert lags[1:] == pytest.approx((CASES[case].derivative,) if CASES[case].derivative else ())
    t = np.linspace(0.0, 40.0, 20_001)
    _, output = control.step_response(control.tf(list(CASES[case].num), list(CASES[case].den)), t)
    assert np.trapezoid(1.0 - output, t) == pytest.approx(math.fsum(reduced), rel=2e-3)


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
