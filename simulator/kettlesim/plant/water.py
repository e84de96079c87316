"""Properties of water between 0 and 110 °C, and the pressure at an altitude.

The polynomials and the vapour pressure curve are least-squares fits to IAPWS-95 (computed with CoolProp 8); the stated
accuracy is the largest deviation found from it over 5-100 °C.
"""

from __future__ import annotations

import math

MEAN_HEAT_CAPACITY_J_PER_KG_K = 4186.0
"""What the plant works with: enthalpy rises from 20 °C to 67 °C and to the boil are within 0.1 % of IAPWS-95."""

STANDARD_PRESSURE_PA = 101_325.0
CELSIUS_ZERO_K = 273.15

VAPOUR_GAS_CONSTANT_J_PER_KG_K = 461.52
_LN_PA, _SLOPE_K, _SHIFT_K = 23.46234749, 3978.21360772, 233.33000831  # Antoine form: ln(p/Pa) = a - b/(c + t)

# ISO 2533 standard atmosphere: sea-level temperature, lapse rate, exponent g/(R L), earth radius.
_SEA_LEVEL_K, _LAPSE_K_PER_M, _EXPONENT, _EARTH_RADIUS_M = 288.15, 0.0065, 5.25588, 6_356_766.0


def density_kg_per_m3(temp_c: float) -> float:
    """At atmospheric pressure; within 0.03 %."""
    return 1000.10101 + temp_c * (0.0106778574 + temp_c * (-5.76050521e-3 + temp_c * 1.49187412e-5))


def latent_heat_j_per_kg(temp_c: float) -> float:
    """Heat of evaporation at the temperature of the liquid; within 0.15 %."""
    return 2.50281704e6 - 2442.12552 * temp_c


def vapour_pressure_pa(temp_c: float) -> float:
    """Of saturated vapour; within 0.3 %."""
    return math.exp(_LN_PA - _SLOPE_K / (_SHIFT_K + temp_c))


def saturation_temp_c(pressure_pa: float) -> float:
    """The temperature at which water boils under ``pressure_pa``; the exact inverse of ``vapour_pressure_pa``."""
    return _SLOPE_K / (_LN_PA - math.log(pressure_pa)) - _SHIFT_K


def pressure_at_altitude_pa(altitude_m: float) -> float:
    """Mean air pressure at a geometric altitude (metres above the sea, as on a map), by ISO 2533 below 11 km."""
    geopotential_m = _EARTH_RADIUS_M * altitude_m / (_EARTH_RADIUS_M + altitude_m)
    return STANDARD_PRESSURE_PA * math.pow(1.0 - _LAPSE_K_PER_M * geopotential_m / _SEA_LEVEL_K, _EXPONENT)
