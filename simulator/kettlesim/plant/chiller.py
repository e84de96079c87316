"""Heat exchange with cooling water, by effectiveness and number of transfer units."""

from __future__ import annotations

import math

from kettlesim.plant.state import WATER_J_PER_KG_K, WATER_L_PER_KG


def coolant_w_per_k(flow_l_per_min: float) -> float:
    """Capacity rate of a flow of water."""
    return flow_l_per_min / 60.0 / WATER_L_PER_KG * WATER_J_PER_KG_K


def coil_w_per_k(chiller_w_per_k: float, coolant: float) -> float:
    """What a coil in stirred liquid takes off per kelvin over the entering coolant (capacity rate ``coolant``, W/K)."""
    return coolant * -math.expm1(-chiller_w_per_k / coolant)


def cooled_fraction(chiller_w_per_k: float, wort: float, coolant: float) -> float:
    """Counter-flow: the fall of the wort over its difference from the entering coolant; both capacity rates in W/K."""
    least, most = min(wort, coolant), max(wort, coolant)
    units, ratio = chiller_w_per_k / least, least / most
    if ratio > 0.9999:
        effectiveness = units / (1.0 + units)
    else:
        left = math.exp(-units * (1.0 - ratio))
        effectiveness = (1.0 - left) / (1.0 - ratio * left)
    return effectiveness * least / wort
