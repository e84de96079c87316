"""Water against CoolProp (IAPWS-95) and iapws (IAPWS-IF97), two implementations that are not ours."""

from __future__ import annotations

import pytest
from CoolProp.CoolProp import PropsSI
from iapws import IAPWS97

from kettlebridge.brewing.water import (
    cold_litres,
    density_kg_per_l,
    hot_litres,
    latent_heat_kj_per_kg,
    vapour_pressure_pa,
)

TEMPERATURES_C = (1.0, 10.0, 20.0, 37.5, 50.0, 67.0, 78.0, 90.0, 99.9)


@pytest.mark.parametrize("at_c", TEMPERATURES_C)
def test_density_is_that_of_iapws_95(at_c: float) -> None:
    assert density_kg_per_l(at_c) == pytest.approx(
        PropsSI("D", "T", at_c + 273.15, "P", 101_325, "Water") / 1000.0, rel=2e-5
    )


@pytest.mark.parametrize("at_c", TEMPERATURES_C)
def test_density_is_that_of_the_industrial_formulation_too(at_c: float) -> None:
    assert density_kg_per_l(at_c) == pytest.approx(IAPWS97(T=at_c + 273.15, P=0.101325).rho / 1000.0, rel=4e-5)


@pytest.mark.parametrize("at_c", TEMPERATURES_C)
def test_latent_heat_and_vapour_pressure_are_those_of_iapws_95(at_c: float) -> None:
    temp_k = at_c + 273.15
    latent = PropsSI("H", "T", temp_k, "Q", 1, "Water") - PropsSI("H", "T", temp_k, "Q", 0, "Water")
    assert latent_heat_kj_per_kg(at_c) == pytest.approx(latent / 1000.0, abs=0.7)
    assert vapour_pressure_pa(at_c) == pytest.approx(PropsSI("P", "T", temp_k, "Q", 0, "Water"), rel=1e-4)


def test_wort_shrinks_by_four_per_cent_from_boil_to_fermenter() -> None:
    assert hot_litres(21.0, 99.97) == pytest.approx(21.873, abs=0.001)  # CoolProp 8
    assert hot_litres(24.0, 99.97) == pytest.approx(24.998, abs=0.001)  # CoolProp 8
    assert 1.0 - cold_litres(1.0, 99.97) == pytest.approx(0.03991, abs=2e-5)  # CoolProp 8


@pytest.mark.parametrize("at_c", TEMPERATURES_C)
def test_hot_and_cold_litres_are_each_others_inverse(at_c: float) -> None:
    assert cold_litres(hot_litres(17.3, at_c), at_c) == pytest.approx(17.3)
