"""Boiling: what is hotter than the boiling point makes steam, and steam from below condenses in colder liquid above."""

from __future__ import annotations

from kettlesim.plant import water
from kettlesim.plant.chain import Capacities, Solved
from kettlesim.plant.state import WATER_J_PER_KG_K

_MOST_OF_TOP = 0.9


def boiled(column: Solved, after: Capacities, top_liquid_j_per_k: float, boil_c: float) -> tuple[Solved, float]:
    """``column`` with heat above ``boil_c`` handed up node by node, and the steam (kg) from what the top has over."""
    temps = [column.bottom_c, column.low_c, column.mid_c, column.high_c, column.top_c]
    rising_j = 0.0
    for place in range(5):
        capacity = after[4 - place]
        temp_c = temps[place] + rising_j / capacity
        rising_j = capacity * (temp_c - boil_c) if temp_c > boil_c else 0.0
        temps[place] = min(temp_c, boil_c)
    latent = water.latent_heat_j_per_kg(boil_c)
    steam_kg = min(rising_j / latent, _MOST_OF_TOP * top_liquid_j_per_k / WATER_J_PER_KG_K)
    left_j = rising_j - steam_kg * latent  # only where the kettle boils dry
    temps[4] += left_j / (after[0] - steam_kg * WATER_J_PER_KG_K)
    bottom_c, low_c, mid_c, high_c, top_c = temps
    element_c, wall_c = column.element_c, column.wall_c
    still = (column.outside_j, column.chilled_j)
    return Solved(element_c, wall_c, top_c, high_c, mid_c, low_c, bottom_c, *still), steam_kg
