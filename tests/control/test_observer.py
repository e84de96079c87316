"""The filter: numbers whatever comes, and the truth where there is one to find."""

from __future__ import annotations

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kettlebridge.core.known import beforehand
from kettlebridge.core.ledger import Grain, Ledger
from kettlebridge.core.model_regulator import mash_model, water_model
from kettlebridge.core.observer import LONGEST_S, MOST_STEPS, Estimate, Model, begun, corrected, predicted
from tests.core.bench_kettle import KETTLE

KNOWN = beforehand(KETTLE, None)
WATER = water_model(KETTLE, KNOWN, 20.0, 18.0)
MASH = mash_model(KETTLE, KNOWN, Ledger(volume_l=18.0, grain=Grain.IN, grain_kg=5.0), 18.0, pump_on=True)
STILL_MASH = mash_model(KETTLE, KNOWN, Ledger(volume_l=18.0, grain=Grain.IN, grain_kg=5.0), 18.0, pump_on=False)
DIAGONAL = (0, 5, 9, 12, 14)

seconds = st.tuples(
    st.floats(0.0, 1.0), st.floats(-10.0, 115.0), st.sampled_from((0.0, 0.3, 1.0, 2.5, 60.0)), st.booleans()
)


def whole(e: Estimate) -> bool:
    numbers = (*e[:5], *e.covariance, e.u1, e.u2)
    return all(map(math.isfinite, numbers)) and all(e.covariance[place] > 0.0 for place in DIAGONAL)


@pytest.mark.parametrize("model", [WATER, MASH, STILL_MASH], ids=["water", "mash", "still mash"])
@given(st.lists(seconds, max_size=60))
def test_no_readings_duties_or_gaps_make_it_lose_its_numbers(
    model: Model, course: list[tuple[float, float, float, bool]]
) -> None:
    estimate = begun(20.0, 1.0, 0.001)
    for u, reading_c, dt_s, fresh in course:
        estimate = predicted(estimate, model, u, dt_s)
        if fresh:
            estimate = corrected(estimate, model, u, reading_c)
        assert whole(estimate)
        assert model.drift_least <= estimate.drift_c_per_s <= model.drift_most
        assert -200.0 < estimate.zone_c < 400.0


def test_a_day_at_full_power_on_a_frozen_probe_keeps_its_numbers() -> None:
    estimate = begun(20.0, 1.0, 0.001)
    for _ in range(20_000):
        estimate = corrected(predicted(estimate, WATER, 1.0, 1.0), WATER, 1.0, 20.0)
    assert whole(estimate)


def test_on_a_climb_it_sees_the_liquid_ahead_of_its_probe() -> None:
    rng = random.Random(5)  # noqa: S311  # noise, not secrets
    liquid_c = lag1 = lag2 = 30.0
    u1 = u2 = 0.0
    estimate = begun(30.0, 1.0, 0.0001)
    for _ in range(600):
        liquid_c += WATER.heat_c_per_s - WATER.zone_out * liquid_c + WATER.zone_feed
        lag1, lag2 = lag1 + (liquid_c - lag1) / WATER.tau_s, lag2 + (lag1 - lag2) / WATER.tau_s
        u1, u2 = u1 + (1.0 - u1) / WATER.tau_s, u2 + (u1 - u2) / WATER.tau_s
        reading_c = round((lag2 + WATER.lift_c * u2 + rng.gauss(0.0, 0.05)) / 0.0625) * 0.0625
        estimate = corrected(predicted(estimate, WATER, 1.0, 1.0), WATER, 1.0, reading_c)
    assert liquid_c - lag2 > 0.2
    assert estimate.zone_c == pytest.approx(liquid_c, abs=0.08)


def test_losses_that_no_file_knew_become_drift() -> None:
    unknown_c_per_s = -0.1 * WATER.heat_c_per_s
    liquid_c = 60.0
    estimate = begun(60.0, 1.0, 0.05 * WATER.heat_c_per_s)
    for _ in range(1500):
        liquid_c += unknown_c_per_s - WATER.zone_out * liquid_c + WATER.zone_feed
        estimate = corrected(predicted(estimate, WATER, 0.0, 1.0), WATER, 0.0, liquid_c)
    assert estimate.drift_c_per_s == pytest.approx(unknown_c_per_s, rel=0.15)


def test_cold_grain_that_nobody_announced_is_believed_within_half_a_minute() -> None:
    estimate = begun(70.0, 0.1, 1e-5)
    for _ in range(120):
        estimate = corrected(predicted(estimate, WATER, 0.0, 1.0), WATER, 0.0, 70.0)
    for _ in range(30):
        estimate = corrected(predicted(estimate, WATER, 0.0, 1.0), WATER, 0.0, 66.0)
    assert estimate.zone_c == pytest.approx(66.0, abs=0.3)


def test_one_reading_far_off_moves_it_little() -> None:
    estimate = begun(66.0, 0.1, 1e-5)
    for _ in range(300):
        estimate = corrected(predicted(estimate, WATER, 0.0, 1.0), WATER, 0.0, 66.0)
    assert corrected(estimate, WATER, 0.0, 67.9).zone_c == pytest.approx(66.0, abs=0.1)


def test_a_long_absence_is_not_calculated_through() -> None:
    gone = predicted(begun(60.0, 1.0, 0.001), WATER, 1.0, 1e6)
    assert gone.zone_c - 60.0 < WATER.heat_c_per_s * LONGEST_S * (MOST_STEPS + 1)
