"""What a heat-up teaches, on readings whose truth is known."""

from __future__ import annotations

import math
import random

import pytest

from kettlebridge.core.identify import FIT_AT_S, NO_HEAT_UP, HeatUp, Promise, Verdict, Watch, fit_due, fitted, watched
from kettlebridge.core.known import Known
from tests.control.synthetic import AMBIENT_C, Synthetic, heat_up

PRIOR = Known(
    rate_fraction=1.0,
    rate_spread=0.25,
    loss_w_per_k=8.0,
    loss_spread_w_per_k=4.8,
    delay_s=20.0,
    delay_spread_s=10.0,
    lift_c=0.5,
    lift_spread_c=0.2,
)
PROMISE = Promise(rate_c_per_s=0.03, heater_w=2500.0)


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize(("a", "delay_s", "lift_c"), [(0.03, 30.0, 0.6), (0.025, 14.0, 0.4), (0.036, 44.0, 0.8)])
def test_seven_minutes_tell_the_rate_and_how_far_the_probe_is_behind(
    a: float, delay_s: float, lift_c: float, seed: int
) -> None:
    """Delay and lift by themselves stay near the prior where the readings do not part them; together they are sharp."""
    watch = heat_up(Synthetic(a=a, delay_s=delay_s, lift_c=lift_c, seed=seed), 421)
    known, verdict = fitted(watch, PRIOR, PRIOR, PROMISE)
    assert verdict is Verdict.FITS
    assert known.rate_fraction * PROMISE.rate_c_per_s == pytest.approx(a, rel=0.02)
    assert a * known.delay_s - known.lift_c == pytest.approx(a * delay_s - lift_c, abs=0.06)
    assert abs(known.delay_s - delay_s) < max(abs(PRIOR.delay_s - delay_s), 5.0)


def test_a_longer_heat_up_tells_the_losses_better_than_the_file() -> None:
    truth_w_per_k = 14.0
    b = truth_w_per_k * PROMISE.rate_c_per_s / PROMISE.heater_w
    watch = heat_up(Synthetic(b=b), 1201)
    known, _ = fitted(watch, PRIOR, PRIOR, PROMISE)
    assert abs(known.loss_w_per_k - truth_w_per_k) < 0.3 * abs(PRIOR.loss_w_per_k - truth_w_per_k)
    assert known.loss_spread_w_per_k < PRIOR.loss_spread_w_per_k / 4.0


@pytest.mark.parametrize("a", [0.012, 0.055])
def test_a_rate_that_power_and_litres_cannot_explain_keeps_the_prior(a: float) -> None:
    known, verdict = fitted(heat_up(Synthetic(a=a), 421), PRIOR, PRIOR, PROMISE)
    assert (known, verdict) == (PRIOR, Verdict.RATE)


def test_a_probe_that_does_not_follow_keeps_the_prior() -> None:
    watch = NO_HEAT_UP
    for second in range(240):
        watch = watched(watch, Watch(20.0, 0.0 if second < 30 else 1.0, AMBIENT_C, second + 1.0, 1.0))
    known, verdict = fitted(watch, PRIOR, PRIOR, PROMISE)
    assert known == PRIOR
    assert verdict is not Verdict.FITS


def test_cold_water_poured_in_meanwhile_keeps_the_prior() -> None:
    watch = NO_HEAT_UP
    for number, second in enumerate(Synthetic().readings(421)):
        poured_c = 4.0 if number > 250 else 0.0
        watch = watched(watch, second._replace(reading_c=second.reading_c - poured_c))
    known, verdict = fitted(watch, PRIOR, PRIOR, PROMISE)
    assert known == PRIOR
    assert verdict is not Verdict.FITS


def test_a_start_that_was_still_moving_tells_the_rate_but_no_delay() -> None:
    rng = random.Random(3)  # noqa: S311  # noise, not secrets
    watch = NO_HEAT_UP
    for second in range(30):
        watch = watched(watch, Watch(12.0 + 0.5 * second, 0.0, AMBIENT_C, second + 1.0, 1.0))
    for second in range(421):
        reading_c = 27.0 + 0.03 * second - 2.0 * math.exp(-second / 20.0) + rng.gauss(0.0, 0.05)
        watch = watched(watch, Watch(reading_c, 1.0, AMBIENT_C, 31.0 + second, 1.0))
    known, verdict = fitted(watch, PRIOR, PRIOR, PROMISE)
    assert not watch.still
    assert verdict is Verdict.FITS
    assert (known.delay_s, known.lift_c) == (PRIOR.delay_s, PRIOR.lift_c)


def test_anything_but_full_power_ends_a_heat_up() -> None:
    watch = heat_up(Synthetic(), 100)
    ended = watched(watch, Watch(15.0, 0.7, AMBIENT_C, 131.0, 1.0))
    assert ended.over
    assert watched(ended, Watch(15.0, 1.0, AMBIENT_C, 132.0, 1.0)).over
    assert watched(ended, Watch(15.0, 0.0, AMBIENT_C, 132.0, 1.0)) == NO_HEAT_UP


def test_fits_come_at_their_times_and_no_more() -> None:
    watch, at_s = NO_HEAT_UP, []
    for number, second in enumerate(Synthetic().readings(1400)):
        watch = watched(watch, second)
        if fit_due(watch):
            at_s.append(number - 30)
            watch = watch._replace(fits=watch.fits + 1)
    assert at_s == pytest.approx([time_s + 0.0 for time_s in FIT_AT_S], abs=2.0)
    assert isinstance(watch, HeatUp)
