"""Foam: steam and released gas make it, it collapses by itself, and what does not fit goes over the rim.

A model by plausibility, not by measurement: its time scales and the order of its volumes are those of common
experience, and one figure per kettle (``Body.foaminess``) spreads them.
"""

from __future__ import annotations

from kettlesim.plant import water
from kettlesim.plant.body import Body
from kettlesim.plant.state import WATER_L_PER_KG, Matter

WORT_L_PER_FOAM_L = 0.12
NEAR_BOIL_K = 2.0
"""How far under the boil the bottom begins to boil and the first foam rises."""
_STEAM_L_PER_J = 1.0 / (0.6 * 2257.0)
"""A litre of steam at the boil holds 0.6 g and 2257 J/g."""
_FOAM_L_PER_STEAM_L = 0.45
COLLAPSE_S, COLLAPSE_LID_S = 6.0, 9.0
_LEAST_FOAM_L = 1e-4
_BURST_FADES_S = 15.0
_BREAK_S = 360.0
"""The protein that holds the foam coagulates: to a third in this time at the boil."""
_BROKEN_FRACTION = 0.15
_FULL_FOAM_EXTRACT = 0.04
"""From this fraction of extract on, wort foams like wort; water does not."""
_SOLIDS_L_PER_KG = 0.7


def headspace_l(body: Body, liquid_l: float, mean_c: float, malt_kg: float) -> float:
    """From ``liquid_l`` (at 20 °C) with ``malt_kg`` in it to the rim; negative when it does not fit."""
    expansion = 1000.0 / WATER_L_PER_KG / water.density_kg_per_m3(mean_c)
    return body.capacity_l - liquid_l * expansion - _SOLIDS_L_PER_KG * malt_kg


def near_boil_fraction(surface_c: float, boil_c: float) -> float:
    """0 two kelvin under the boil, 1 at it."""
    return min(max(1.0 + (surface_c - boil_c) / NEAR_BOIL_K, 0.0), 1.0)


def grown(  # noqa: PLR0913
    body: Body, matter: Matter, collapse_s: float, near: float, heating_j: float, dt_s: float
) -> tuple[float, float, float]:
    """Foam (l), unbroken fraction and burst (l/s) after ``dt_s`` in which the element gave the liquid ``heating_j``."""
    liquid_kg = matter.water_kg + matter.extract_kg
    wort = min(matter.extract_kg / liquid_kg / _FULL_FOAM_EXTRACT, 1.0) if liquid_kg > 0.0 else 0.0
    steam_l = max(heating_j, 0.0) * _STEAM_L_PER_J * near * near
    risen_l = _FOAM_L_PER_STEAM_L * steam_l + matter.burst_l_per_s * near * dt_s
    risen_l *= body.foaminess * matter.unbroken_fraction * wort
    breaking = near * near * dt_s / (_BREAK_S + dt_s)
    unbroken = matter.unbroken_fraction - breaking * max(matter.unbroken_fraction - _BROKEN_FRACTION, 0.0)
    burst = matter.burst_l_per_s * _BURST_FADES_S / (_BURST_FADES_S + dt_s)
    foam_l = (matter.foam_l + risen_l) * collapse_s / (collapse_s + dt_s)
    return foam_l if foam_l > _LEAST_FOAM_L else 0.0, unbroken, burst
