"""What a brewer does to the plant at one instant: pure functions from state to state.

Litres are those at 20 °C. Whether an act makes sense is the world's question; each here assumes that it does.
"""

from __future__ import annotations

import math

from kettlesim.plant import foam
from kettlesim.plant.body import Body
from kettlesim.plant.layout import node_capacities, relaid
from kettlesim.plant.state import (
    FITTINGS_J_PER_K,
    MALT_YIELD_KG_PER_KG,
    WATER_J_PER_KG_K,
    Basket,
    PlantState,
    capacity_j_per_k,
    grain_j_per_k,
    litres,
)

_BURST_L_PER_S_PER_G = 0.02
_MOST_BURST_L_PER_S = 2.0
_STIRRED_FOAM_FRACTION = 0.3


def add(body: Body, state: PlantState, water_kg: float, extract_kg: float, temp_c: float) -> PlantState:
    """Pour water, or sugar, in from above; what does not fit runs over the rim."""
    heat, matter, sums = state
    added = capacity_j_per_k(water_kg, extract_kg)
    nodes = list(node_capacities(body, state))
    top_c = (heat.top_c * nodes[0] + temp_c * added) / (nodes[0] + added)
    nodes[0] += added
    matter = matter._replace(water_kg=matter.water_kg + water_kg, extract_kg=matter.extract_kg + extract_kg)
    sums = sums._replace(
        brought_j=sums.brought_j + added * temp_c,
        brought_kg=sums.brought_kg + water_kg + extract_kg,
        brought_extract_kg=sums.brought_extract_kg + extract_kg,
    )
    filled = PlantState(relaid(body, heat._replace(top_c=top_c), tuple(nodes), matter), matter, sums)
    return _overflowed(body, filled)


def _overflowed(body: Body, state: PlantState) -> PlantState:
    heat, matter, _ = state
    malt_kg = matter.malt_kg if matter.basket is Basket.IN else 0.0
    liquid_l = litres(matter.water_kg, matter.extract_kg)
    excess_l = -foam.headspace_l(body, liquid_l, 0.5 * (heat.top_c + heat.low_c), malt_kg)
    if excess_l <= 0.0:
        return state
    state = take(body, state, excess_l, from_bottom=False)
    sums = state.sums._replace(boiled_over_l=state.sums.boiled_over_l + excess_l)
    return state._replace(sums=sums)


def take(body: Body, state: PlantState, volume_l: float, *, from_bottom: bool) -> PlantState:
    """Let ``volume_l`` out, at most what is there, layer by layer from the tap at the bottom or over the rim."""
    heat, matter, sums = state
    liquid_l = litres(matter.water_kg, matter.extract_kg)
    fraction = min(volume_l / liquid_l, 1.0) if liquid_l > 0.0 else 0.0
    temps, liquids, nodes = list(heat[2:7]), heat[7:12], list(node_capacities(body, state))
    left, carried_j = fraction * capacity_j_per_k(matter.water_kg, matter.extract_kg), 0.0
    for place in reversed(range(5)) if from_bottom else range(5):
        part = min(liquids[place], left)
        carried_j += part * temps[place]
        nodes[place] -= part
        left -= part
    taken_kg = fraction * (matter.water_kg + matter.extract_kg)
    taken_extract_kg = fraction * matter.extract_kg
    matter = matter._replace(
        water_kg=matter.water_kg * (1.0 - fraction), extract_kg=matter.extract_kg * (1.0 - fraction)
    )
    sums = sums._replace(
        carried_j=sums.carried_j + carried_j,
        carried_kg=sums.carried_kg + taken_kg,
        carried_extract_kg=sums.carried_extract_kg + taken_extract_kg,
    )
    return PlantState(relaid(body, heat, tuple(nodes), matter), matter, sums)


def grain_in(body: Body, state: PlantState, malt_kg: float, temp_c: float) -> PlantState:
    """Basket and malt in; wetting the malt sets its heat of slaking free at once."""
    heat, matter, sums = state
    malt_extract_kg = malt_kg * MALT_YIELD_KG_PER_KG
    slaking_j = malt_kg * body.slaking_j_per_kg
    grain = grain_j_per_k(body, malt_kg, malt_extract_kg)
    nodes = list(node_capacities(body, state))
    temps = list(heat[2:7])
    for place in (1, 2, 3):
        warmth_j = nodes[place] * temps[place] + (grain * temp_c + slaking_j) / 3.0
        nodes[place] += grain / 3.0
        temps[place] = warmth_j / nodes[place]
    matter = matter._replace(
        malt_kg=malt_kg, malt_extract_kg=malt_extract_kg, basket=Basket.IN, bed_open_fraction=1.0, shifted_l=0.0
    )
    sums = sums._replace(
        slaking_j=sums.slaking_j + slaking_j,
        brought_j=sums.brought_j + grain * temp_c,
        brought_kg=sums.brought_kg + malt_kg,
        brought_extract_kg=sums.brought_extract_kg + malt_extract_kg,
    )
    mixed = heat._replace(high_c=temps[1], mid_c=temps[2], low_c=temps[3])
    return _overflowed(body, PlantState(relaid(body, mixed, tuple(nodes), matter), matter, sums))


def lift_basket(body: Body, state: PlantState) -> PlantState:
    """Hang the basket over the kettle with the liquid that stands in the bed; most of it then drains."""
    heat, matter, sums = state
    grain = grain_j_per_k(body, matter.malt_kg, matter.malt_extract_kg)
    liquid = capacity_j_per_k(matter.water_kg, matter.extract_kg)
    in_bed = heat.high_j_per_k + heat.mid_j_per_k + heat.low_j_per_k
    warmth_j = (
        (heat.high_j_per_k + grain / 3.0) * heat.high_c
        + (heat.mid_j_per_k + grain / 3.0) * heat.mid_c
        + (heat.low_j_per_k + grain / 3.0) * heat.low_c
    )
    fraction = in_bed / liquid if liquid > 0.0 else 0.0
    nodes = list(node_capacities(body, state))
    nodes[1:4] = [FITTINGS_J_PER_K] * 3
    matter = matter._replace(
        water_kg=matter.water_kg * (1.0 - fraction),
        extract_kg=matter.extract_kg * (1.0 - fraction),
        basket=Basket.LIFTED,
        basket_water_kg=matter.water_kg * fraction,
        basket_extract_kg=matter.extract_kg * fraction,
        shifted_l=0.0,
    )
    lifted = heat._replace(basket_c=warmth_j / (in_bed + grain))
    return PlantState(relaid(body, lifted, tuple(nodes), matter), matter, sums)


def sparge(body: Body, state: PlantState, water_kg: float, temp_c: float) -> PlantState:
    """Pour water over the lifted basket; it mixes with what the grain holds and drains with it."""
    heat, matter, sums = state
    held = capacity_j_per_k(matter.basket_water_kg, matter.basket_extract_kg)
    held += grain_j_per_k(body, matter.malt_kg, matter.malt_extract_kg)
    added = water_kg * WATER_J_PER_KG_K
    basket_c = (held * heat.basket_c + added * temp_c) / (held + added)
    return PlantState(
        heat._replace(basket_c=basket_c),
        matter._replace(basket_water_kg=matter.basket_water_kg + water_kg),
        sums._replace(brought_j=sums.brought_j + added * temp_c, brought_kg=sums.brought_kg + water_kg),
    )


def basket_away(body: Body, state: PlantState) -> PlantState:
    """Carry the lifted basket off, with the spent grain and what it still holds."""
    heat, matter, sums = state
    held = capacity_j_per_k(matter.basket_water_kg, matter.basket_extract_kg)
    held += grain_j_per_k(body, matter.malt_kg, matter.malt_extract_kg)
    spent_kg = matter.malt_kg - (matter.malt_kg * MALT_YIELD_KG_PER_KG - matter.malt_extract_kg)
    sums = sums._replace(
        carried_j=sums.carried_j + held * heat.basket_c,
        carried_kg=sums.carried_kg + spent_kg + matter.basket_water_kg + matter.basket_extract_kg,
        carried_extract_kg=sums.carried_extract_kg + matter.basket_extract_kg + matter.malt_extract_kg,
    )
    matter = matter._replace(
        malt_kg=0.0, malt_extract_kg=0.0, basket=Basket.OUT, basket_water_kg=0.0, basket_extract_kg=0.0
    )
    return PlantState(heat, matter, sums)


def stir(body: Body, state: PlantState) -> PlantState:
    """One temperature throughout, a loosened bed, less foam."""
    heat, matter, sums = state
    nodes = node_capacities(body, state)
    mean_c = math.fsum(part * temp for part, temp in zip(nodes, heat[2:7], strict=True)) / math.fsum(nodes)
    matter = matter._replace(bed_open_fraction=1.0, shifted_l=0.0, foam_l=matter.foam_l * _STIRRED_FOAM_FRACTION)
    mixed = heat._replace(top_c=mean_c, high_c=mean_c, mid_c=mean_c, low_c=mean_c, bottom_c=mean_c)
    return PlantState(relaid(body, mixed, nodes, matter), matter, sums)


def stick_bed(state: PlantState, fraction: float) -> PlantState:
    """Close the bed by ``fraction``; 1 lets nothing through."""
    return state._replace(matter=state.matter._replace(bed_open_fraction=1.0 - fraction))


def add_hops(state: PlantState, grams: float) -> PlantState:
    """Hops give bubbles a place to form at; their mass, their heat and the wort they soak up are left out."""
    burst = min(state.matter.burst_l_per_s + grams * _BURST_L_PER_S_PER_G, _MOST_BURST_L_PER_S)
    return state._replace(matter=state.matter._replace(burst_l_per_s=burst))
