"""Cooling with tap water: how cold it gets, how long it takes, how much water goes."""

from __future__ import annotations

from math import expm1, inf, log

from kettlebridge.brewing.water import WATER_J_PER_KG_K

W_PER_K_OF_L_PER_MIN = WATER_J_PER_KG_K / 60.0
"""Heat that a litre a minute carries for each kelvin, taken as a kilogram."""
APPROACH_C = 2.0
"""How close to its water a chiller brings wort in a reasonable time (common practice, no source)."""


def coil_effectiveness(coil_w_per_k: float, water_l_per_min: float) -> float:
    """Share of the greatest possible exchange that a coil in stirred wort reaches: 1 - exp(-NTU)."""
    return -expm1(-coil_w_per_k / (water_l_per_min * W_PER_K_OF_L_PER_MIN))


def coil_min(volume_l: float, from_c: float, to_c: float, water_c: float, exchange_w_per_k: float) -> float:
    """Minutes with a coil in the kettle; `exchange_w_per_k` is effectiveness x water flow. Infinite if out of reach."""
    if to_c <= water_c:
        return inf
    wort_j_per_k = volume_l * WATER_J_PER_KG_K
    return max(wort_j_per_k / exchange_w_per_k * log((from_c - water_c) / (to_c - water_c)) / 60.0, 0.0)


def reachable_c(wanted_c: float, water_c: float) -> float:
    """What is wanted, or the coldest that this water can bring."""
    return max(wanted_c, water_c + APPROACH_C)
