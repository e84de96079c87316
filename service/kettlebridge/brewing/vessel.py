"""What follows from a kettle's size and is not in its file: estimates, each small beside the water."""

from __future__ import annotations

from math import pi

from kettlebridge.brewing.gravity import WATER_20_C_KG_PER_L
from kettlebridge.brewing.mash import STEEL_J_PER_KG_K
from kettlebridge.brewing.surface import evaporated_kg_per_m2_h, evaporation_w
from kettlebridge.model.kettle import Kettle

SHEET_M = 0.0008
STEEL_KG_PER_M3 = 7900.0
FITTINGS_KG = 1.0
COIL_W_PER_K = 250.0
ON_THE_BED_L = 0.5
"""Stands on the grain bed instead of under it while the pump runs (estimate, no source)."""
SPARGE_STANDS_MM = 25.0
"""Above the grain, at most: more presses the bed shut, or finds a way past it (common practice, no source)."""
BOIL_COVER = 1.2
"""Times the element's cover, the least that a boil may come down to."""
COOLING_L_PER_MIN = 6.0
"""A usual hose through a usual coil (common practice, no source)."""


def diameter_m(kettle: Kettle, height_per_diameter: float = 1.0) -> float:
    """Of a kettle as high as it is wide, where nobody says otherwise."""
    return float((4.0 * kettle.capacity_l / 1000.0 / (pi * height_per_diameter)) ** (1.0 / 3.0))


def surface_m2(kettle: Kettle, height_per_diameter: float = 1.0) -> float:
    """Of the liquid in it."""
    return pi / 4.0 * diameter_m(kettle, height_per_diameter) ** 2


def stands_on_the_bed_l(kettle: Kettle) -> float:
    """The most sparge water that may stand on a lifted bed."""
    return SPARGE_STANDS_MM * surface_m2(kettle)


def steel_j_per_k(kettle: Kettle) -> float:
    """Heat capacity of wall, floor, lid, fittings and basket: sheet steel of 0.8 mm."""
    sheet_m2 = 1.5 * pi * diameter_m(kettle) ** 2
    return STEEL_J_PER_KG_K * (sheet_m2 * SHEET_M * STEEL_KG_PER_M3 + FITTINGS_KG + kettle.basket_kg)


def wetted_steel_j_per_k(kettle: Kettle, litres: float) -> float:
    """What of it is as hot as `litres` of liquid and warms with them: the rest stands dry, and cooler."""
    return steel_j_per_k(kettle) * min(litres / kettle.capacity_l, 1.0)


def covered_loss_w_per_k(kettle: Kettle, liquid_c: float, room_c: float) -> float:
    """Heat lost under a lid for each kelvin above the room: the kettle file's own, and what vapour carries off."""
    if liquid_c <= room_c:
        return kettle.loss_w_per_k
    vapour_w = evaporation_w(surface_m2(kettle), liquid_c, room_c, lid_on=True)
    return kettle.loss_w_per_k + vapour_w / (liquid_c - room_c)


def open_vapour_l_per_h(kettle: Kettle, liquid_c: float, room_c: float) -> float:
    """What rises from hot wort with the lid off before it boils, litres at 20 °C."""
    return surface_m2(kettle) * evaporated_kg_per_m2_h(liquid_c, room_c) / WATER_20_C_KG_PER_L
