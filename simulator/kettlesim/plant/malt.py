"""Extract leaving the malt, and wort draining from a lifted basket."""

from __future__ import annotations

import math

from kettlesim.plant.body import Body
from kettlesim.plant.state import EXTRACT_L_PER_KG, MALT_YIELD_KG_PER_KG, Matter, litres

_RATE_PER_S = 1.0 / 720.0
_COLD_FRACTION = 0.08
_GELATINISED_C, _WIDTH_K = 58.0, 2.0
_DRAIN_S = 90.0


def dissolving_per_s(bed_c: float) -> float:
    """The fraction of what the malt still holds that dissolves per second: quick once starch is gelatinised."""
    gelatinised = 1.0 / (1.0 + math.exp((_GELATINISED_C - bed_c) / _WIDTH_K))
    return _RATE_PER_S * (_COLD_FRACTION + (1.0 - _COLD_FRACTION) * gelatinised)


def kept_litres(body: Body, malt_kg: float) -> float:
    """What drained grain keeps, at 20 °C. Wort counts the volume of its extract, the apparent absorption does not."""
    return malt_kg * (body.absorption_l_per_kg + EXTRACT_L_PER_KG * MALT_YIELD_KG_PER_KG)


def draining_fraction(body: Body, matter: Matter, dt_s: float) -> float:
    """Of the liquid in a lifted basket, what runs out of it in ``dt_s``."""
    held_l = litres(matter.basket_water_kg, matter.basket_extract_kg)
    free_l = held_l - kept_litres(body, matter.malt_kg)
    return free_l / held_l * -math.expm1(-dt_s / _DRAIN_S) if free_l > 0.0 else 0.0
