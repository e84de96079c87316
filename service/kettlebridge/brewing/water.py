"""Water at the pressure of a kitchen, 0 to 100 °C: density, latent heat, vapour pressure."""

from __future__ import annotations

from math import exp

CELSIUS_ZERO_K = 273.15
WATER_J_PER_KG_K = 4186.0
"""Mean between 20 and 67 °C: 4182; between 20 and 100 °C: 4189 (IAPWS-95)."""

_CRITICAL_K = 647.096
_CRITICAL_PA = 22.064e6
_VAPOUR = (
    (-7.85951783, 1.0),
    (1.84408259, 1.5),
    (-11.7866497, 3.0),
    (22.6807411, 3.5),
    (-15.9618719, 4.0),
    (1.80122502, 7.5),
)


def density_kg_per_l(at_c: float) -> float:
    """Density, 0 to 100 °C, within 0.002 %: G. S. Kell, J. Chem. Eng. Data 20 (1975) 97, coefficients from memory."""
    t = at_c
    above = 999.83952 + t * (
        16.945176 + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 - 280.54253e-12 * t)))
    )
    return above / (1.0 + 16.879850e-3 * t) / 1000.0


def hot_litres(cold_l: float, at_c: float) -> float:
    """What `cold_l` litres, measured at 20 °C, take up at `at_c`: 4.2 % more at the boil."""
    return cold_l * density_kg_per_l(20.0) / density_kg_per_l(at_c)


def cold_litres(hot_l: float, at_c: float) -> float:
    """What `hot_l` litres, measured at `at_c`, take up at 20 °C."""
    return hot_l * density_kg_per_l(at_c) / density_kg_per_l(20.0)


def latent_heat_kj_per_kg(at_c: float) -> float:
    """Heat of evaporation, within 0.7 kJ/kg from 0 to 100 °C (fitted to IAPWS-95)."""
    return 2500.276 + at_c * (-2.300384 - 0.001322608 * at_c)


def vapour_pressure_pa(at_c: float) -> float:
    """Pressure of saturated vapour, within 0.01 %: Wagner and Pruss, IAPWS SR1-86(1992), coefficients from memory."""
    temp_k = at_c + CELSIUS_ZERO_K
    tau = 1.0 - temp_k / _CRITICAL_K
    log_p = 0.0
    for factor, power in _VAPOUR:
        log_p += factor * tau**power
    return _CRITICAL_PA * exp(_CRITICAL_K / temp_k * log_p)
