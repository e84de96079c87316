"""How the liquid stands in the kettle, and how a profile of temperatures is laid over a new division."""

from __future__ import annotations

import math

from kettlesim.plant.body import Body
from kettlesim.plant.state import (
    FITTINGS_J_PER_K,
    Basket,
    Heat,
    Matter,
    PlantState,
    capacity_j_per_k,
    grain_j_per_k,
    litres,
)

BED_LIQUID_L_PER_KG = 2.0
"""Between and in the grains of a bed in liquid. From memory: a mash of 2-2.5 L/kg just has no liquid on top."""
SOAKED_L_PER_KG = 1.0
"""Kept by wet grain however low the level falls (common practice, no source)."""
_TOP_FRACTION = 0.12
_LEAST_FRACTION = 0.002


def divide(body: Body, liquid_l: float, malt_kg: float, shifted_l: float) -> tuple[float, float, float]:
    """Fractions of ``liquid_l`` in the top, in each of three cells and in the bottom; ``malt_kg`` stands in it."""
    if liquid_l <= 0.0:
        return _TOP_FRACTION, (0.5 - _TOP_FRACTION) / 3.0, 0.5
    bottom = body.under_basket_l / liquid_l
    bottom = min(bottom, 0.5)
    if malt_kg == 0.0:
        return _TOP_FRACTION, (1.0 - _TOP_FRACTION - bottom) / 3.0, bottom
    upper = 1.0 - bottom
    bed = BED_LIQUID_L_PER_KG * malt_kg / liquid_l
    bed = min(bed, 0.9 * upper)
    bottom = max(bottom - shifted_l / liquid_l, _LEAST_FRACTION * bottom)
    return 1.0 - bed - bottom, bed / 3.0, bottom


def under_basket_litres(body: Body, matter: Matter) -> float:
    """What really stands under a basket that is in, where a float hangs; the nodes share out more evenly than that."""
    liquid_l = litres(matter.water_kg, matter.extract_kg)
    below_l = min(liquid_l - SOAKED_L_PER_KG * matter.malt_kg, body.under_basket_l)
    return max(below_l - matter.shifted_l, 0.0)


def node_capacities(body: Body, state: PlantState) -> tuple[float, float, float, float, float]:
    """Heat capacity (J/K) of each liquid node with the grain and the fittings in it, top to bottom."""
    heat, matter = state.heat, state.matter
    cell = FITTINGS_J_PER_K
    if matter.basket is Basket.IN:
        cell += grain_j_per_k(body, matter.malt_kg, matter.malt_extract_kg) / 3.0
    return (
        heat.top_j_per_k + FITTINGS_J_PER_K,
        heat.high_j_per_k + cell,
        heat.mid_j_per_k + cell,
        heat.low_j_per_k + cell,
        heat.bottom_j_per_k + FITTINGS_J_PER_K,
    )


def relaid(body: Body, heat: Heat, old: tuple[float, ...], matter: Matter) -> Heat:
    """``heat`` with its profile laid over the division that ``matter`` has now; energy is kept if the capacity is.

    ``old`` holds the nodes' capacities (J/K) that go with the temperatures in ``heat``, top to bottom; a sum that
    differs from the new one stretches the profile.
    """
    liquid_l = litres(matter.water_kg, matter.extract_kg)
    grain_in = matter.basket is Basket.IN
    top, cell, bottom = divide(body, liquid_l, matter.malt_kg if grain_in else 0.0, matter.shifted_l)
    liquid = capacity_j_per_k(matter.water_kg, matter.extract_kg)
    grain = grain_j_per_k(body, matter.malt_kg, matter.malt_extract_kg) / 3.0 if grain_in else 0.0
    liquids = (top * liquid, cell * liquid, cell * liquid, cell * liquid, bottom * liquid)
    new = [part + FITTINGS_J_PER_K + (grain if 0 < place < 4 else 0.0) for place, part in enumerate(liquids)]
    temps = _overlaid((heat.top_c, heat.high_c, heat.mid_c, heat.low_c, heat.bottom_c), old, new)
    return heat._replace(
        top_c=temps[0],
        high_c=temps[1],
        mid_c=temps[2],
        low_c=temps[3],
        bottom_c=temps[4],
        top_j_per_k=liquids[0],
        high_j_per_k=liquids[1],
        mid_j_per_k=liquids[2],
        low_j_per_k=liquids[3],
        bottom_j_per_k=liquids[4],
    )


def _overlaid(temps: tuple[float, ...], old: tuple[float, ...], new: list[float]) -> list[float]:
    """Mean temperature of each ``new`` layer, with layers of ``old`` thickness stretched to the new total."""
    stretch = math.fsum(new) / math.fsum(old)
    result: list[float] = []
    place, left = 0, old[0] * stretch
    for thickness in new:
        wanted, gathered = thickness, 0.0
        while wanted > left and place < len(old) - 1:
            gathered += left * temps[place]
            wanted -= left
            place += 1
            left = old[place] * stretch
        gathered += wanted * temps[place]
        left -= wanted
        result.append(gathered / thickness)
    return result


def stored_j(body: Body, state: PlantState) -> float:
    """Enthalpy of everything in and of the kettle, from 0 °C; a lifted basket included, the fermenter not."""
    heat, matter, _ = state
    nodes = node_capacities(body, state)
    parts = [part * temp for part, temp in zip(nodes, heat[2:7], strict=True)]
    parts += [body.element_j_per_k * heat.element_c, body.wall_j_per_k * heat.wall_c]
    if matter.basket is Basket.LIFTED:
        hanging = capacity_j_per_k(matter.basket_water_kg, matter.basket_extract_kg)
        hanging += grain_j_per_k(body, matter.malt_kg, matter.malt_extract_kg)
        parts.append(hanging * heat.basket_c)
    return math.fsum(parts)
