"""Colour, yeast, alcohol, carbonation."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from iapws._iapws import _Henry

from kettlebridge.brewing import alcohol, colour, yeast
from kettlebridge.brewing.carbonation import henry_pa, priming_sucrose_g, volumes_held
from kettlebridge.brewing.gravity import apparent_plato, plato


@pytest.mark.parametrize(("of_mcu", "expected"), [(1, 1.492), (5, 4.500), (10, 7.240), (20, 11.647), (50, 21.835)])
def test_beer_colour_is_moreys(of_mcu: float, expected: float) -> None:
    """D. Morey, brewingtechniques.com/brewingtechniques/beerslaw/morey.html."""
    assert colour.beer_srm(of_mcu) == pytest.approx(expected, abs=0.001)


def test_five_kilograms_of_three_lovibond_make_a_pale_beer() -> None:
    assert colour.mcu(15.0, 20.0) == pytest.approx(6.2591, abs=1e-4)
    assert colour.beer_srm(colour.mcu(15.0, 20.0)) == pytest.approx(5.2499, abs=1e-4)


@given(st.floats(0.0, 1400.0))
def test_scales_of_colour_are_each_others_inverse(value: float) -> None:
    assert colour.ebc(colour.srm(value)) == pytest.approx(value)
    assert colour.malt_ebc(colour.lovibond(value)) == pytest.approx(value, abs=1e-9)


@pytest.mark.parametrize(("rate", "billion"), [(0.75, 180), (1.0, 240), (1.5, 360)])
def test_twenty_litres_of_twelve_plato_want_so_much_yeast(rate: float, billion: float) -> None:
    """Rates of G. Fix, as quoted; 1e6 cells per mL and °P."""
    assert yeast.cells_billion(20.0, 12.0, rate) == pytest.approx(billion)
    assert yeast.million_per_ml_plato(billion, 20.0, 12.0) == pytest.approx(rate)


def test_dry_yeast_is_counted_by_the_gram() -> None:
    assert yeast.dry_yeast_g(180.0) == pytest.approx(18.0)  # ten thousand million a gram, from memory


@pytest.mark.parametrize(
    ("original", "final", "by_mass", "by_volume"),
    [
        (1.040, 1.010, 3.0833, 3.938),
        (1.050, 1.010, 4.1222, 5.265),
        (1.060, 1.015, 4.6300, 5.943),
        (1.080, 1.020, 6.1807, 7.973),
    ],
)
def test_alcohol_is_ballings(original: float, final: float, by_mass: float, by_volume: float) -> None:
    """Balling's relations with q = 0.22 + 0.001 OE, worked out independently."""
    real = alcohol.real_extract(plato(original), apparent_plato(final))
    assert alcohol.alcohol_by_mass(plato(original), real) == pytest.approx(by_mass, abs=0.001)
    assert alcohol.alcohol_by_volume(original, final) == pytest.approx(by_volume, abs=0.002)


@pytest.mark.parametrize(("original", "factor"), [(6, 0.4073), (10, 0.4148), (12, 0.4187), (16, 0.4267), (20, 0.4351)])
def test_alcohol_factor_is_that_of_ballings_table(original: float, factor: float) -> None:
    """F. Eckhardt's reprint: alcohol by mass = factor x (OE - AE)."""
    real = alcohol.real_extract(original, 2.0)
    assert alcohol.alcohol_by_mass(original, real) / (original - 2.0) == pytest.approx(factor, abs=2e-4)


@given(st.floats(5.0, 25.0), st.floats(0.3, 0.9))
def test_original_extract_is_found_again_in_the_beer(original: float, fermented: float) -> None:
    real = original * (1.0 - fermented * 0.8)
    by_mass = alcohol.alcohol_by_mass(original, real)
    assert alcohol.original_plato(by_mass, real) == pytest.approx(original, rel=0.005)


@given(st.floats(1.030, 1.100), st.floats(0.5, 0.9))
def test_attenuation_leads_to_the_final_gravity_and_back(original: float, fraction: float) -> None:
    assert alcohol.attenuation_fraction(original, alcohol.final_sg(original, fraction)) == pytest.approx(
        fraction, abs=1e-3
    )


@pytest.mark.parametrize("at_c", [2.0, 10.0, 20.0, 30.0])
def test_henrys_constant_is_that_of_iapws(at_c: float) -> None:
    """IAPWS G7-04 as implemented by iapws 1.5."""
    assert henry_pa(at_c) / 1e6 == pytest.approx(_Henry(at_c + 273.15, "CO2"), rel=0.002)


@pytest.mark.parametrize(("at_c", "held"), [(5, 1.358), (10, 1.145), (15, 0.976), (20, 0.839), (25, 0.727)])
def test_flat_beer_holds_what_water_holds(at_c: float, held: float) -> None:
    """IAPWS G7-04 through iapws 1.5.5, at 1 atm."""
    assert volumes_held(at_c) == pytest.approx(held, abs=0.004)


@pytest.mark.parametrize(
    ("at_f", "gauge_psi", "volumes"), [(32, 10, 2.70), (38, 12, 2.57), (40, 10, 2.30), (45, 20, 2.94)]
)
def test_beer_under_pressure_is_near_the_trades_table(at_f: float, gauge_psi: float, volumes: float) -> None:
    """brewingtechniques.com, issue 2.1, table of D. Miller: beer holds 1 to 2 % less than water."""
    found = volumes_held((at_f - 32.0) / 1.8, 101_325.0 + gauge_psi * 6894.76)
    assert volumes / found == pytest.approx(0.986, abs=0.01)


@pytest.mark.parametrize(("wanted", "grams"), [(2.0, 88.41), (2.4, 119.16), (2.8, 149.91)])
def test_priming_sugar_brings_what_is_missing(wanted: float, grams: float) -> None:
    """Stoichiometry, 20 L with 0.85 volumes left: those of 19.6 °C."""
    assert priming_sucrose_g(20.0, wanted, 19.6) == pytest.approx(grams, abs=1.0)


def test_beer_that_holds_enough_gets_no_sugar() -> None:
    assert priming_sucrose_g(20.0, 1.0, 4.0) == 0.0
