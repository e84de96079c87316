"""The mash's balance of heat."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kettlebridge.brewing.mash import (
    Malt,
    Steel,
    bed_l,
    decoction_fraction,
    heating_min,
    malt,
    mash_capacity_j_per_k,
    mash_room_l,
    strike_c,
    water_capacity_j_per_k,
    water_to_reach_l,
)


def malt_of(relative_heat: float, slaking_j_per_kg: float = 0.0) -> Malt:
    return Malt(
        kg=5.2,
        temp_c=18.0,
        specific_heat_j_per_kg_k=1000.0 * 4.1868 * relative_heat,
        slaking_j_per_kg=slaking_j_per_kg,
    )


@pytest.mark.parametrize(("relative_heat", "expected_c"), [(0.38, 71.420), (0.40, 71.705), (0.44, 72.276)])
def test_strike_without_slaking_is_the_textbook_balance(relative_heat: float, expected_c: float) -> None:
    """5.2 kg of 18 °C and 17.5 L to 66 °C, one litre taken as one kilogram; worked out independently."""
    assert strike_c(17.5, 66.0, malt_of(relative_heat)) == pytest.approx(expected_c, abs=0.03)


def test_strike_with_slaking_and_steel_is_that_of_coolprop_enthalpies() -> None:
    cold = Steel(capacity_j_per_k=5.0 * 500.0, temp_c=18.0)
    assert strike_c(17.5, 66.0, malt_of(0.4013, 20_000.0)) == pytest.approx(70.309, abs=0.03)
    measured_hot_l = 17.5 * 0.97667  # 17.5 L at strike temperature are 17.092 kg
    assert strike_c(measured_hot_l, 66.0, malt_of(0.4013)) == pytest.approx(71.856, abs=0.03)
    assert strike_c(measured_hot_l, 66.0, malt_of(0.4013), cold) == pytest.approx(73.531, abs=0.03)


def test_malt_suppliers_worked_example_comes_out() -> None:
    """Pauls & Whites, Brewing Room Book 1984/85, as reprinted: 2 %, 27 °C, liquor 69 °C, 2.68 hL/100 kg -> 65.96 °C."""
    assert strike_c(2.68, 65.96, malt(1.0, 27.0, moisture_fraction=0.02)) == pytest.approx(69.0, abs=0.05)


@pytest.mark.parametrize("moisture_fraction", [0.0, 0.03, 0.05, 0.08, 0.12])
def test_heat_of_malt_is_within_published_figures(moisture_fraction: float) -> None:
    """1.59 (Pauls & Whites) to 1.85 kJ/kgK (mixture of its constituents, CoolProp 8)."""
    assert 1590.0 <= malt(1.0, 20.0, moisture_fraction).specific_heat_j_per_kg_k <= 1850.0


@given(
    water_l=st.floats(3.0, 60.0),
    kg=st.floats(0.5, 20.0),
    grain_c=st.floats(-5.0, 35.0),
    mash_c=st.floats(40.0, 75.0),
    steel_j_per_k=st.floats(0.0, 8000.0),
    warm_j_per_k=st.floats(0.0, 8000.0),
)
def test_strike_water_makes_the_mash_it_was_heated_for(
    water_l: float, kg: float, grain_c: float, mash_c: float, steel_j_per_k: float, warm_j_per_k: float
) -> None:
    grain, cold = malt(kg, grain_c), Steel(capacity_j_per_k=steel_j_per_k, temp_c=15.0)
    hot_j_per_k = water_capacity_j_per_k(water_l) + warm_j_per_k
    brought_j = hot_j_per_k * strike_c(water_l, mash_c, grain, cold, warm_j_per_k) + grain.kg * grain.slaking_j_per_kg
    brought_j += grain.capacity_j_per_k * grain_c + steel_j_per_k * 15.0
    assert brought_j / (hot_j_per_k + grain.capacity_j_per_k + steel_j_per_k) == pytest.approx(mash_c)


@given(st.floats(-5.0, 30.0), st.floats(0.1, 5.0))
def test_colder_grain_wants_hotter_water(grain_c: float, colder_c: float) -> None:
    assert strike_c(15.0, 66.0, malt(4.0, grain_c - colder_c)) > strike_c(15.0, 66.0, malt(4.0, grain_c))


def test_infusion_of_boiling_water_is_the_textbook_one() -> None:
    """5.2 kg + 17.5 L from 52 to 66 °C with water of 100 °C, S = 0.40: 8.062 L (one litre as one kilogram)."""
    mash = mash_capacity_j_per_k(17.5, malt_of(0.40))
    assert water_to_reach_l(mash, 52.0, 66.0, 100.0) == pytest.approx(8.062, abs=0.02)


@given(st.floats(40.0, 78.0), st.floats(0.1, 5.0), st.sampled_from([8.0, 99.0]))
def test_water_that_mends_a_mash_closes_its_balance(mash_c: float, off_c: float, water_c: float) -> None:
    mash = mash_capacity_j_per_k(17.5, malt_of(0.40))
    wanted_c = mash_c + off_c if water_c > mash_c else mash_c - off_c
    added = water_capacity_j_per_k(water_to_reach_l(mash, mash_c, wanted_c, water_c))
    assert (mash * mash_c + added * water_c) / (mash + added) == pytest.approx(wanted_c)


def test_cold_water_warms_no_mash() -> None:
    with pytest.raises(ValueError, match="brings no mash"):
        water_to_reach_l(80_000.0, 60.0, 66.0, 15.0)


def test_direct_heat_takes_the_time_that_its_energy_takes() -> None:
    """52 to 66 °C, 1147.7 kJ: 6.38 min at 3 kW without losses."""
    assert heating_min(mash_capacity_j_per_k(17.5, malt_of(0.40)), 52.0, 66.0, 3000.0) == pytest.approx(6.38, abs=0.02)
    with pytest.raises(ValueError, match="losses"):
        heating_min(80_000.0, 52.0, 66.0, 0.0)


def test_decoction_is_the_share_that_the_balance_asks_for() -> None:
    assert decoction_fraction(52.0, 67.0, 100.0) == pytest.approx(0.3125)


def test_grain_takes_room_and_stands_in_a_bed() -> None:
    assert mash_room_l(17.5, 5.0) == pytest.approx(17.5 + 3.35)  # 0.67 L/kg, common practice, no source
    assert bed_l(5.0) == pytest.approx(12.5)  # 2.5 L/kg, from memory
