"""Plato, gravity, density, extract: the ASBC polynomial and printed sugar tables."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kettlebridge.brewing.extract import (
    highest_first_wort_plato,
    plato_of,
    potential_kg,
    sugar_to_raise_kg,
    water_to_thin_l,
)
from kettlebridge.brewing.gravity import (
    density_kg_per_l_at_20_c,
    extract_kg,
    hydrometer_corrected,
    plato,
    sg,
)

PLATOS = st.floats(0.1, 30.0)
LITRES = st.floats(1.0, 200.0)


@pytest.mark.parametrize(
    ("at_sg", "asbc_plato"),
    [(1.010, 2.5608), (1.020, 5.0809), (1.048, 11.9121), (1.050, 12.3876), (1.080, 19.3310), (1.100, 23.7689)],
)
def test_plato_follows_the_asbc_polynomial(at_sg: float, asbc_plato: float) -> None:
    """ASBC polynomial as printed at liquisearch.com/brix/tables."""
    assert plato(at_sg) == pytest.approx(asbc_plato, abs=1e-4)


@pytest.mark.parametrize(
    ("at_plato", "handbook_sg"),
    [(1, 1.00389), (2, 1.00779), (4, 1.01567), (8, 1.03176), (12, 1.04831), (16, 1.06534), (20, 1.08287)],
)
def test_density_agrees_with_the_sugar_handbook(at_plato: float, handbook_sg: float) -> None:
    """Asadi, Beet-Sugar Handbook, Table A.1: true density relative to water, both at 20 °C."""
    assert density_kg_per_l_at_20_c(at_plato) / 0.998207 == pytest.approx(handbook_sg, abs=2e-5)


def test_water_has_no_plato_and_a_gravity_of_one() -> None:
    assert plato(1.0) == 0.0
    assert sg(0.0) == pytest.approx(1.0, abs=2e-5)


@given(PLATOS)
def test_gravity_and_plato_are_each_others_inverse(at_plato: float) -> None:
    assert plato(sg(at_plato)) == pytest.approx(at_plato, abs=1e-6)


@given(PLATOS, LITRES)
def test_extract_and_plato_are_each_others_inverse(at_plato: float, volume_l: float) -> None:
    assert plato_of(extract_kg(volume_l, at_plato), volume_l) == pytest.approx(at_plato, abs=1e-6)


@given(PLATOS, st.floats(0.1, 5.0))
def test_more_extract_is_more_gravity(at_plato: float, more: float) -> None:
    assert sg(at_plato + more) > sg(at_plato)


@pytest.mark.parametrize(
    ("kg", "dry_yield", "moisture", "efficiency", "litres", "expected_plato"),
    [
        (5.0, 0.80, 0.04, 0.75, 20, 13.669),
        (6.0, 0.805, 0.045, 0.80, 23, 15.140),
        (4.5, 0.81, 0.04, 1.0, 25, 13.306),
    ],
)
def test_grist_gives_the_gravity_that_its_extract_has(
    kg: float, dry_yield: float, moisture: float, efficiency: float, litres: float, expected_plato: float
) -> None:
    """Solved independently from the ASBC densities."""
    extract = potential_kg(kg, dry_yield, moisture) * efficiency
    assert plato_of(extract, litres) == pytest.approx(expected_plato, abs=0.001)


def test_pound_of_sugar_in_a_gallon_is_46_points() -> None:
    found = plato_of(0.119826 * 10.0, 10.0)  # 1 lb in 1 US gallon is 119.826 g/L
    assert found == pytest.approx(11.475, abs=0.001)
    assert sg(found) == pytest.approx(1.04617, abs=2e-5)


def test_boiling_down_keeps_the_extract() -> None:
    boiled_down = plato_of(extract_kg(24.0, 10.0), 21.0)
    assert boiled_down == pytest.approx(11.3665, abs=1e-3)
    assert sg(boiled_down) == pytest.approx(1.04571, abs=2e-5)


@pytest.mark.parametrize(("litres_per_kg", "strongest"), [(2.5, 23.25), (3.0, 20.20), (4.0, 16.00)])
def test_first_wort_is_never_stronger_than_all_its_extract(litres_per_kg: float, strongest: float) -> None:
    assert highest_first_wort_plato(litres_per_kg, 0.80, 0.04) == pytest.approx(strongest, abs=0.06)


@given(LITRES, st.floats(5.0, 25.0), st.floats(0.2, 4.0))
def test_thinning_and_strengthening_keep_their_extract(volume_l: float, at_plato: float, change: float) -> None:
    """Masses add up, whatever volumes do."""
    mass_kg = volume_l * density_kg_per_l_at_20_c(at_plato)
    water_kg = water_to_thin_l(volume_l, at_plato, at_plato - change) * density_kg_per_l_at_20_c(0.0)
    assert 100.0 * extract_kg(volume_l, at_plato) / (mass_kg + water_kg) == pytest.approx(at_plato - change, rel=1e-6)
    sugar_kg = sugar_to_raise_kg(volume_l, at_plato, at_plato + change)
    stronger = 100.0 * (extract_kg(volume_l, at_plato) + sugar_kg) / (mass_kg + sugar_kg)
    assert stronger == pytest.approx(at_plato + change, rel=1e-6)


def test_more_extract_than_wort_can_hold_is_refused() -> None:
    with pytest.raises(ValueError, match="do not go into"):
        plato_of(10.0, 10.0)


@pytest.mark.parametrize(
    ("at_c", "correction"), [(10, -0.0006), (20, 0.0009), (25, 0.0021), (30, 0.0035), (40, 0.0069), (49, 0.0106)]
)
def test_hydrometer_of_15_degrees_is_corrected_as_printed(at_c: float, correction: float) -> None:
    """wiki.americanhomebrewers.org/HydrometerTemperatureAdjustmentTable, which prints sizes without their sign."""
    assert hydrometer_corrected(1.0, at_c, 15.0) - 1.0 == pytest.approx(correction, abs=1.5e-4)
