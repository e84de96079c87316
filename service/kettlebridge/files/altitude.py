"""Where water boils at an altitude: standard atmosphere, then saturation temperature."""

from __future__ import annotations

from math import sqrt

EARTH_RADIUS_M = 6_356_766.0

_N = (
    0.11670521452767e4,
    -0.72421316703206e6,
    -0.17073846940092e2,
    0.12020824702470e5,
    -0.32325550322333e7,
    0.14915108613530e2,
    -0.48232657361591e4,
    0.40511340542057e6,
    -0.23855557567849,
    0.65017534844798e3,
)
"""Coefficients of the saturation line, IAPWS R7-97 Table 34."""


def pressure_pa(altitude_m: float) -> float:
    """Air pressure of the standard atmosphere (ICAO Doc 7488, ISO 2533) below 11 km; weather moves it by ±3 kPa."""
    geopotential_m = EARTH_RADIUS_M * altitude_m / (EARTH_RADIUS_M + altitude_m)
    return float(101_325.0 * (1.0 - 0.0065 * geopotential_m / 288.15) ** 5.255_876)


def saturation_c(at_pa: float) -> float:
    """Boiling temperature of water at a pressure, 612 Pa to 22 MPa: IAPWS R7-97 equation 31."""
    beta = sqrt(sqrt(at_pa / 1e6))
    e = beta * beta + _N[2] * beta + _N[5]
    f = _N[0] * beta * beta + _N[3] * beta + _N[6]
    g = _N[1] * beta * beta + _N[4] * beta + _N[7]
    d = 2.0 * g / (-f - sqrt(f * f - 4.0 * e * g))
    theta_k = (_N[9] + d - sqrt((_N[9] + d) ** 2 - 4.0 * (_N[8] + _N[9] * d))) / 2.0
    return theta_k - 273.15


def boil_c(altitude_m: float) -> float:
    """Boiling temperature of water at an altitude in standard weather."""
    return saturation_c(pressure_pa(altitude_m))
