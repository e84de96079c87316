"""Carbon dioxide in beer: what it holds at a temperature and pressure, and the sugar that brings the rest."""

from __future__ import annotations

from math import exp

from kettlebridge.brewing.water import CELSIUS_ZERO_K, density_kg_per_l, vapour_pressure_pa

ATMOSPHERE_PA = 101_325.0
CO2_G_PER_L = 1.976813
"""A volume of gas: at 0 °C and 1 atm (Span and Wagner)."""
CO2_G_PER_MOL = 44.0095
WATER_MOL_PER_KG = 55.508
GAS_J_PER_MOL_K = 8.314463
CO2_G_PER_G_SUCROSE = 0.514285
"""Stoichiometry: four molecules of CO2 for each of sucrose."""

_CRITICAL_K = 647.096
_A, _B, _C = -8.55445, 4.01195, 9.52345


def henry_pa(at_c: float) -> float:
    """Henry's constant of CO2 in water, 1 to 350 °C: IAPWS G7-04, coefficients from memory."""
    reduced = (at_c + CELSIUS_ZERO_K) / _CRITICAL_K
    tau = 1.0 - reduced
    return vapour_pressure_pa(at_c) * exp(_A / reduced + _B * tau**0.355 / reduced + _C * reduced**-0.41 * exp(tau))


def _fugacity_coefficient(at_c: float, gas_pa: float) -> float:
    """How much less than an ideal gas CO2 presses: second virial coefficient, -149 cm3/mol at 0 °C (from memory)."""
    virial_m3_per_mol = (-149.0 + 1.04 * at_c) * 1e-6
    return exp(virial_m3_per_mol * gas_pa / (GAS_J_PER_MOL_K * (at_c + CELSIUS_ZERO_K)))


def volumes_held(at_c: float, pressure_pa: float = ATMOSPHERE_PA) -> float:
    """Volumes of CO2 in water under CO2 and its own vapour at an absolute pressure; beer holds 1 to 2 % less."""
    gas_pa = pressure_pa - vapour_pressure_pa(at_c)
    fraction = gas_pa * _fugacity_coefficient(at_c, gas_pa) / henry_pa(at_c)
    grams_per_l = fraction / (1.0 - fraction) * WATER_MOL_PER_KG * CO2_G_PER_MOL * density_kg_per_l(at_c)
    return grams_per_l / CO2_G_PER_L


def priming_sucrose_g(volume_l: float, wanted_volumes: float, warmest_c: float) -> float:
    """Sucrose for bottling. `warmest_c`: the warmest that the beer has been since, which decides what is left."""
    missing = max(wanted_volumes - volumes_held(warmest_c), 0.0)
    return missing * CO2_G_PER_L * volume_l / CO2_G_PER_G_SUCROSE
