"""The regulator: Skogestad's rule, and a loop closed over a lag with dead time."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from functools import cache
from itertools import pairwise

import pytest
from simple_pid import PID

from kettlebridge.core.drive import tuning
from kettlebridge.core.ledger import Grain, Ledger
from kettlebridge.core.regulator import AT_REST, NEAR_FRACTION, Loop, Regulation, Tuning, regulate, simc
from tests.core.bench_kettle import KETTLE

RISE_C_PER_S = 2500.0 / (4186.0 * 20.0)
THETA_S = 10.0


@pytest.mark.parametrize(
    ("k", "tau_s", "theta_s", "gain", "integral_s"),
    [
        (1.0, 50.0, 1.0, 25.0, 8.0),
        (1.0, 1.1, 0.1, 5.5, 0.8),
        (1.0, 2.5, 1.47, 0.850, 2.5),
        (1.0, 1.5, 2.5, 0.30, 1.5),
        (1.0, 5.0, 1.0, 2.5, 5.0),
    ],
)
def test_first_order_with_delay_is_tuned_by_the_published_rule(
    k: float, tau_s: float, theta_s: float, gain: float, integral_s: float
) -> None:
    """Skogestad, J. Process Control 13 (2003) 291: Kc = tau_1/(2 k theta), tau_I = min(tau_1, 8 theta)."""
    tuned = simc(k / tau_s, theta_s, tau_s)
    assert tuned.gain_per_c == pytest.approx(gain, rel=0.01)
    assert tuned.integral_s == pytest.approx(integral_s, rel=0.01)


def test_an_integrating_process_is_tuned_by_the_published_rule() -> None:
    """Skogestad (2003): e^-s/s gives Kc = 0.5, tau_I = 8."""
    assert simc(1.0, 1.0) == Tuning(gain_per_c=0.5, integral_s=8.0)


def test_a_fresh_pid_every_tick_is_bit_identical_to_one_that_is_kept() -> None:
    """Against simple_pid itself, in the region where the integral learns."""
    tuned = simc(RISE_C_PER_S, THETA_S)
    kept = PID(tuned.gain_per_c, tuned.gain_per_c / tuned.integral_s, 0.0, setpoint=66.0, sample_time=None)
    kept.output_limits = (-0.1, 0.9)
    kept.set_auto_mode(True, last_output=0.0)
    regulation = AT_REST
    for n in range(40):
        measured_c = 66.0 - 0.1 * (n % 2)
        regulation, duty = regulate(regulation, tuned, Loop(66.0, measured_c, 0.1, 1.0))
        assert duty == 0.1 + (kept(measured_c, 1.0) or 0.0)


class Model:
    """Litres with losses and a dead time; `hidden_w` are losses that the feed does not know."""

    def __init__(self, liquid_c: float, *, hidden_w: float = 0.0) -> None:
        self.liquid_c = liquid_c
        self.hidden_w = hidden_w
        self._on_its_way = deque([0.0] * round(THETA_S))

    def warm(self, duty: float) -> None:
        self._on_its_way.append(duty)
        lost = (2.0 * (self.liquid_c - 20.0) + self.hidden_w) / 2500.0
        self.liquid_c += RISE_C_PER_S * (self._on_its_way.popleft() - lost)


def closed(
    model: Model, seconds: int, target_c: Callable[[int], float], *, ceiling: float = 1.0
) -> list[tuple[float, float, Regulation]]:
    """Temperature, duty and regulation at every second."""
    tuned, regulation = simc(RISE_C_PER_S, THETA_S), AT_REST
    trace = []
    for second in range(seconds):
        feed = 2.0 * max(model.liquid_c - 20.0, 0.0) / 2500.0
        regulation, duty = regulate(regulation, tuned, Loop(target_c(second), model.liquid_c, feed, 1.0, ceiling))
        model.warm(duty)
        trace.append((model.liquid_c, duty, regulation))
    return trace


@cache
def climb() -> list[tuple[float, float, Regulation]]:
    return closed(Model(40.0), 1500, lambda s: 66.0)


def test_a_long_climb_at_full_power_winds_nothing_up() -> None:
    trace = climb()
    saturated = [regulation for _, duty, regulation in trace if duty >= 1.0]
    assert len(saturated) > 600
    assert set(saturated) == {AT_REST}
    far_c = 66.0 - NEAR_FRACTION / simc(RISE_C_PER_S, THETA_S).gain_per_c - 0.1
    assert {regulation.integral_fraction for c, _, regulation in trace if c < far_c} == {0.0}
    assert max(c for c, _, _ in trace) - 66.0 < 0.1
    assert trace[-1][0] == pytest.approx(66.0, abs=0.02)


def test_hours_at_a_ceiling_wind_nothing_up_either() -> None:
    """The circuit grants too little to get there; then all of it."""
    regulation, tuned = AT_REST, simc(RISE_C_PER_S, THETA_S)
    for _ in range(600):
        regulation, duty = regulate(regulation, tuned, Loop(66.0, 65.9, 0.05, 1.0, 0.1))
        assert duty == 0.1
    assert regulation == AT_REST


def test_a_heater_that_can_go_no_lower_is_not_learnt_from() -> None:
    regulation, tuned = AT_REST, simc(RISE_C_PER_S, THETA_S)
    for _ in range(600):
        regulation, duty = regulate(regulation, tuned, Loop(66.0, 66.1, 0.05, 1.0))
        assert duty == 0.0
    assert regulation == AT_REST


@pytest.mark.parametrize("hidden_w", [0.0, 400.0, 1200.0])
def test_losses_nobody_told_of_are_learnt(hidden_w: float) -> None:
    trace = closed(Model(64.0, hidden_w=hidden_w), 1500, lambda s: 66.0)
    assert trace[-1][0] == pytest.approx(66.0, abs=0.05)
    assert max(c for c, _, _ in trace) - 66.0 < 0.25


def test_leaving_saturation_is_without_a_bump() -> None:
    trace = climb()
    duties = [duty for _, duty, _ in trace]
    steepest = 1.05 * RISE_C_PER_S * simc(RISE_C_PER_S, THETA_S).gain_per_c
    assert max(abs(after - before) for before, after in pairwise(duties)) < steepest


def test_a_lowered_target_waits_with_the_heater_off_and_lands_without_undershoot() -> None:
    trace = closed(Model(66.0), 2700, lambda s: 66.0 if s < 300 else 65.5)
    falling = [duty for c, duty, _ in trace[301:] if c > 65.8]
    assert max(falling) == 0.0
    assert min(c for c, _, _ in trace) > 65.4
    assert trace[-1][0] == pytest.approx(65.5, abs=0.02)


def test_a_raised_target_is_reached_within_a_tenth_of_a_degree() -> None:
    trace = closed(Model(66.0), 1200, lambda s: 66.0 if s < 300 else 72.0)
    assert max(c for c, _, _ in trace) - 72.0 < 0.1
    assert trace[-1][0] == pytest.approx(72.0, abs=0.02)


def test_duty_stays_between_off_and_the_ceiling() -> None:
    for measured_c in (-50.0, 20.0, 65.9, 66.1, 150.0):
        _, duty = regulate(Regulation(0.3), simc(RISE_C_PER_S, THETA_S), Loop(66.0, measured_c, 0.2, 1.0, 0.6))
        assert 0.0 <= duty <= 0.6


def test_in_a_mash_the_heater_sees_only_the_zone_under_the_basket() -> None:
    free = tuning(KETTLE, Ledger(volume_l=20.0), pump_on=True)
    mash = tuning(KETTLE, Ledger(volume_l=20.0, grain=Grain.IN, grain_kg=4.0), pump_on=True)
    assert mash.gain_per_c == pytest.approx(free.gain_per_c * KETTLE.under_basket_l / 20.0)
    assert mash.integral_s == pytest.approx(3.0 / (4.0 / 60.0))
    assert tuning(KETTLE, Ledger(volume_l=20.0, grain=Grain.IN), pump_on=False).integral_s == 80.0
