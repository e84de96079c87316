"""Water against independent implementations: CoolProp 8 (IAPWS-95), iapws 1.5 (IAPWS-IF97), ambiance 1.3 (ICAO)."""

from __future__ import annotations

import ambiance
import pytest
from CoolProp.CoolProp import PropsSI
from iapws import IAPWS97

from kettlesim.plant import water

TEMPERATURES_C = (5.0, 10.0, 20.0, 35.0, 50.0, 66.0, 72.0, 78.0, 90.0, 95.0, 99.9)


@pytest.mark.parametrize("temp_c", TEMPERATURES_C)
def test_liquid_water_agrees_with_coolprop(temp_c: float) -> None:
    at = ("T", temp_c + 273.15, "P", 101_325.0, "Water")
    assert water.density_kg_per_m3(temp_c) == pytest.approx(PropsSI("D", *at), rel=5e-4)


@pytest.mark.parametrize("temp_c", TEMPERATURES_C)
def test_evaporation_agrees_with_coolprop(temp_c: float) -> None:
    saturated = ("T", temp_c + 273.15, "Q")
    latent = PropsSI("H", *saturated, 1, "Water") - PropsSI("H", *saturated, 0, "Water")
    assert water.latent_heat_j_per_kg(temp_c) == pytest.approx(latent, rel=2e-3)
    pressure_pa = PropsSI("P", *saturated, 0, "Water")
    assert water.vapour_pressure_pa(temp_c) == pytest.approx(pressure_pa, rel=5e-3)


@pytest.mark.parametrize("temp_c", [10.0, 66.0, 95.0])
def test_liquid_water_agrees_with_the_industrial_formulation(temp_c: float) -> None:
    other = IAPWS97(T=temp_c + 273.15, P=0.101325)
    assert water.density_kg_per_m3(temp_c) == pytest.approx(other.rho, rel=5e-4)


@pytest.mark.parametrize(("from_c", "to_c"), [(20.0, 67.0), (20.0, 78.0), (20.0, 99.9), (10.0, 67.0)])
def test_one_heat_capacity_serves_a_whole_brew_day(from_c: float, to_c: float) -> None:
    rise = PropsSI("H", "T", to_c + 273.15, "P", 101_325.0, "Water")
    rise -= PropsSI("H", "T", from_c + 273.15, "P", 101_325.0, "Water")
    assert water.MEAN_HEAT_CAPACITY_J_PER_KG_K * (to_c - from_c) == pytest.approx(rise, rel=1.5e-3)


@pytest.mark.parametrize("altitude_m", [0.0, 250.0, 500.0, 1000.0, 1500.0, 2000.0, 2500.0, 3000.0])
def test_boiling_point_at_altitude_agrees_with_the_standard_atmosphere(altitude_m: float) -> None:
    pressure_pa = float(ambiance.Atmosphere(altitude_m).pressure[0])
    assert water.pressure_at_altitude_pa(altitude_m) == pytest.approx(pressure_pa, rel=1e-5)
    boil_c = PropsSI("T", "P", pressure_pa, "Q", 0, "Water") - 273.15
    assert water.saturation_temp_c(water.pressure_at_altitude_pa(altitude_m)) == pytest.approx(boil_c, abs=0.1)


@pytest.mark.parametrize("temp_c", TEMPERATURES_C)
def test_saturation_temperature_undoes_vapour_pressure(temp_c: float) -> None:
    assert water.saturation_temp_c(water.vapour_pressure_pa(temp_c)) == pytest.approx(temp_c, abs=1e-9)
