"""What changes in a kettle: temperatures, contents and running sums, and what is done to it from outside.

Liquid is counted by heat capacity (J/K) wherever it moves, because the capacities of water and of dissolved extract
simply add up; temperatures are in °C and enthalpies are counted from 0 °C. The parts of a state are NamedTuples since
they are made anew every step, and a tuple is the cheapest immutable record there is.
"""

from __future__ import annotations

from enum import Enum
from typing import NamedTuple

from kettlesim.plant import water
from kettlesim.plant.body import Body

WATER_J_PER_KG_K = water.MEAN_HEAT_CAPACITY_J_PER_KG_K
EXTRACT_J_PER_KG_K = 1650.0
"""Dissolved or still in the malt. Puts 12 °P wort at 67 °C at 3.88 kJ/kg K, between two published sugar formulas."""
WATER_L_PER_KG = 1.0 / 0.9982
EXTRACT_L_PER_KG = 0.62
"""Apparent volume in solution at 20 °C; gives the ASBC densities within 0.1 % up to 20 °P."""
MALT_YIELD_KG_PER_KG = 0.78
"""Extract that malt as weighed can give: a coarse grind at 4 % moisture."""
FITTINGS_J_PER_K = 5.0
"""Metal that belongs to each liquid node, so that a dry node still has a temperature."""


class Basket(Enum):
    """Where the grain basket is. OUT: put aside, with or without the kettle ever having held grain."""

    OUT = "out"
    IN = "in"
    LIFTED = "lifted"


class Heat(NamedTuple):
    """Temperatures (°C) and the heat capacities (J/K) of the liquid in each node, top to bottom."""

    element_c: float
    wall_c: float
    top_c: float
    high_c: float
    mid_c: float
    low_c: float
    bottom_c: float
    top_j_per_k: float
    high_j_per_k: float
    mid_j_per_k: float
    low_j_per_k: float
    bottom_j_per_k: float
    basket_c: float
    """Of a lifted basket and what it holds."""
    pocket_c: float
    probe_c: float
    return_pocket_c: float
    return_probe_c: float
    chiller_out_c: float


class Matter(NamedTuple):
    """What is where. Liquid of a basket that is in counts as the kettle's."""

    water_kg: float
    extract_kg: float
    malt_kg: float
    """As weighed; 0 once the basket is away."""
    malt_extract_kg: float
    """Of that, what can still dissolve."""
    basket: Basket
    basket_water_kg: float
    """Held by a lifted basket."""
    basket_extract_kg: float
    bed_open_fraction: float
    """1: the bed passes what the pump takes at a small difference in level; 0: stuck."""
    shifted_l: float
    """Missing under the basket and standing on the bed instead."""
    pump_l_per_min: float
    """What really flows."""
    foam_l: float
    unbroken_fraction: float
    """Of the protein that holds foam: falls as the hot break passes."""
    burst_l_per_s: float
    """Foam set free by an addition, fading."""
    boil_kg_per_s: float
    """Steam made by boiling, evaporation below the boil not counted."""
    fermenter_kg: float
    fermenter_extract_kg: float
    fermenter_c: float


class Sums(NamedTuple):
    """Everything that has crossed the boundary since the beginning. Each is added up where it happens."""

    electric_j: float = 0.0
    slaking_j: float = 0.0
    brought_j: float = 0.0
    """With water, grain and sugar."""
    lost_j: float = 0.0
    """To the room, from wall, surface, a lifted basket and a bare element."""
    vapour_j: float = 0.0
    chilled_j: float = 0.0
    carried_j: float = 0.0
    """Out with wort, spent grain and what boiled over."""
    brought_kg: float = 0.0
    brought_extract_kg: float = 0.0
    evaporated_kg: float = 0.0
    carried_kg: float = 0.0
    """Everything that left but vapour; the fermenter's content is part of it."""
    carried_extract_kg: float = 0.0
    boiled_over_l: float = 0.0


class PlantState(NamedTuple):
    """One moment of the plant."""

    heat: Heat
    matter: Matter
    sums: Sums


class PlantInputs(NamedTuple):
    """What acts on the kettle during a step."""

    heater_w: float = 0.0
    """Electric power that reaches the element."""
    pump_on: bool = False
    ambient_c: float = 18.0
    lid_on: bool = False
    coolant_l_per_min: float = 0.0
    coolant_c: float = 15.0
    transfer_open: bool = False


def empty(ambient_c: float) -> PlantState:
    """A clean, empty kettle that has stood in the room."""
    temps = (ambient_c,) * 7
    heat = Heat(*temps, 0.0, 0.0, 0.0, 0.0, 0.0, *((ambient_c,) * 6))
    matter = Matter(
        water_kg=0.0,
        extract_kg=0.0,
        malt_kg=0.0,
        malt_extract_kg=0.0,
        basket=Basket.OUT,
        basket_water_kg=0.0,
        basket_extract_kg=0.0,
        bed_open_fraction=1.0,
        shifted_l=0.0,
        pump_l_per_min=0.0,
        foam_l=0.0,
        unbroken_fraction=1.0,
        burst_l_per_s=0.0,
        boil_kg_per_s=0.0,
        fermenter_kg=0.0,
        fermenter_extract_kg=0.0,
        fermenter_c=ambient_c,
    )
    return PlantState(heat, matter, Sums())


def litres(water_kg: float, extract_kg: float) -> float:
    """Volume of a wort at 20 °C."""
    return water_kg * WATER_L_PER_KG + extract_kg * EXTRACT_L_PER_KG


def capacity_j_per_k(water_kg: float, extract_kg: float) -> float:
    """Heat capacity of a wort."""
    return water_kg * WATER_J_PER_KG_K + extract_kg * EXTRACT_J_PER_KG_K


def grain_j_per_k(body: Body, malt_kg: float, malt_extract_kg: float) -> float:
    """Heat capacity of the grain: extract takes its own along as it dissolves."""
    return malt_kg * body.malt_j_per_kg_k - (malt_kg * MALT_YIELD_KG_PER_KG - malt_extract_kg) * EXTRACT_J_PER_KG_K


def boil_c(body: Body, water_kg: float, extract_kg: float) -> float:
    """The temperature at which such a wort boils in this kettle."""
    liquid_kg = water_kg + extract_kg
    plato = 100.0 * extract_kg / liquid_kg if liquid_kg > 0.0 else 0.0
    # Fit to the elevation by sucrose (activity after Starzak and Peacock): .17 K at 10 °P, .39 K at 20 °P.
    return body.saturation_c + body.boil_rise_k + plato * (0.0155 + 2.2e-4 * plato)
