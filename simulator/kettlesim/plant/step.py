"""One step of the plant: ``step(body, state, inputs, dt_s) -> state``, pure."""

from __future__ import annotations

import math

from kettlesim.plant import chiller, foam, malt
from kettlesim.plant.body import Body, Chill
from kettlesim.plant.boil import boiled
from kettlesim.plant.chain import Moves, Solved, solved
from kettlesim.plant.foam import NEAR_BOIL_K
from kettlesim.plant.layout import divide
from kettlesim.plant.probes import felt
from kettlesim.plant.state import (
    EXTRACT_J_PER_KG_K,
    EXTRACT_L_PER_KG,
    FITTINGS_J_PER_K,
    WATER_J_PER_KG_K,
    WATER_L_PER_KG,
    Basket,
    Heat,
    Matter,
    PlantInputs,
    PlantState,
    Sums,
    boil_c,
    capacity_j_per_k,
    grain_j_per_k,
)
from kettlesim.plant.surface import losses
from kettlesim.plant.water import latent_heat_j_per_kg

LONGEST_S = 1.0
"""Of a sub-step: within 0.05 °C of sub-steps of 0.05 s, which a test shows."""
_PRIMED_FRACTION = 0.15
"""Of the bottom zone: with less liquid than that over the outlet the pump begins to draw air."""
_GRAVITY_FRACTION = 0.6
"""What runs through an open tap with the pump off, of the pump's free flow."""
_BED_PASSES_S = 5.0
"""Litres standing on an open bed divided by the flow through it; a stuck bed needs more, up to for ever."""
_BASKET_W_PER_K = 3.0
"""From a hanging basket to the room."""
_CALM_FRACTION = 0.9
"""Of the capacity: with less liquid than that, and no foam, nothing can go over the rim."""
_MOST_AT_ONCE = 0.5
"""Of a node, what one stream may take in a step; binds only in a kettle run dry."""


def step(body: Body, state: PlantState, inputs: PlantInputs, dt_s: float) -> PlantState:
    """The state ``dt_s`` later, with ``inputs`` unchanged meanwhile."""
    parts = max(1, math.ceil(dt_s / LONGEST_S - 1e-9))
    part_s = dt_s / parts
    for _ in range(parts):
        state = _advanced(body, state, inputs, part_s)
    return state


def _flow(body: Body, liquid_l: float, pump_on: bool, dt_s: float) -> tuple[float, float]:
    """What runs from the outlet under ``liquid_l``: litres per minute, fewer when it draws air, and litres."""
    above_l = max(liquid_l - body.dead_space_l, 0.0)
    primed = min(above_l / (_PRIMED_FRACTION * body.under_basket_l), 1.0)
    flow_l_per_min = body.pump_l_per_min * primed * (1.0 if pump_on else _GRAVITY_FRACTION)
    return flow_l_per_min, min(flow_l_per_min / 60.0 * dt_s, _MOST_AT_ONCE * above_l)


def _chilled(body: Body, coolant_l_per_min: float, stream_w_per_k: float, whole_j_per_k: float) -> tuple[float, float]:
    """``Moves.cooled_fraction`` and ``Moves.coil_per_s`` with the cooling water open."""
    coolant = chiller.coolant_w_per_k(coolant_l_per_min)
    if body.chill is Chill.IN_KETTLE:
        return 0.0, chiller.coil_w_per_k(body.chiller_w_per_k, coolant) / whole_j_per_k
    return chiller.cooled_fraction(body.chiller_w_per_k, stream_w_per_k, coolant) if stream_w_per_k > 0.0 else 0.0, 0.0


def _hung(body: Body, state: PlantState, kept: float, ambient_c: float, dt_s: float) -> tuple[float, float]:
    """Temperature of a lifted basket of which ``kept`` of the liquid stays, and the heat (J) it gave to the room."""
    basket_c, matter = state.heat.basket_c, state.matter
    hanging = kept * capacity_j_per_k(matter.basket_water_kg, matter.basket_extract_kg)
    hanging += grain_j_per_k(body, matter.malt_kg, matter.malt_extract_kg)
    lost_j = (basket_c - ambient_c) * hanging * dt_s / (hanging / _BASKET_W_PER_K + dt_s)
    return basket_c - lost_j / hanging, lost_j


def _foamed(  # noqa: PLR0913
    body: Body, matter: Matter, lid_on: bool, boiling_c: float, liquid_l: float, column: Solved, moves: Moves
) -> tuple[float, float, float, float]:
    """Foam (l), unbroken fraction and burst (l/s) after the sub-step, and the litres of wort that went over the rim."""
    near = foam.near_boil_fraction(column.top_c, boiling_c)
    heating_j = body.element_w_per_k * moves.cover_fraction * (column.element_c - column.bottom_c) * moves.dt_s
    collapse_s = foam.COLLAPSE_LID_S if lid_on else foam.COLLAPSE_S
    foam_l, unbroken, burst_l_per_s = foam.grown(body, matter, collapse_s, near, heating_j, moves.dt_s)
    malt_kg = matter.malt_kg if moves.bed else 0.0
    room_l = foam.headspace_l(body, liquid_l, 0.5 * (column.top_c + column.low_c), malt_kg)
    spilled_l = max(-room_l, 0.0)
    room_l = max(room_l, 0.0)
    if foam_l > room_l:
        spilled_l += foam.WORT_L_PER_FOAM_L * (foam_l - room_l)
        foam_l = room_l
    return foam_l, unbroken, burst_l_per_s, spilled_l


def _advanced(body: Body, state: PlantState, inputs: PlantInputs, dt_s: float) -> PlantState:  # noqa: C901, PLR0915
    """One sub-step: what moves, then how warm everything is, then what boils, foams over and is felt by the probes.

    Long, because it is the inner loop: it reads the old state once and writes the new one once, and only what is seldom
    there, or an idea of its own, is worth the price of a call.
    """
    heat, matter, sums = state
    heater_w, pump_on, ambient_c, lid_on, coolant_l_per_min, coolant_c, transfer_open = inputs
    (
        water_kg,
        extract_kg,
        malt_kg,
        malt_extract_kg,
        basket,
        basket_water_kg,
        basket_extract_kg,
        bed_open_fraction,
        shifted_l,
        _,
        foam_l,
        unbroken_fraction,
        burst_l_per_s,
        _,
        fermenter_kg,
        fermenter_extract_kg,
        fermenter_c,
    ) = matter
    top_c, basket_c = heat.top_c, heat.basket_c
    top, high, mid, low, bottom = heat[7:12]
    whole = top + high + mid + low + bottom
    liquid_l = water_kg * WATER_L_PER_KG + extract_kg * EXTRACT_L_PER_KG
    per_litre = whole / liquid_l if liquid_l > 0.0 else 0.0
    bottom_l = bottom / per_litre if per_litre > 0.0 else 0.0

    # From the surface, and through the outlet.
    per_s, convected_w = losses(body, top_c, ambient_c, lid_on)
    evaporated_kg = per_s * dt_s
    if evaporated_kg * WATER_J_PER_KG_K > _MOST_AT_ONCE * top:
        evaporated_kg = _MOST_AT_ONCE * top / WATER_J_PER_KG_K
    evaporating_j = evaporated_kg * latent_heat_j_per_kg(top_c)
    convected_j = convected_w * dt_s if liquid_l > 0.0 else 0.0
    flow_l_per_min = pumped_l = out_l = 0.0
    if pump_on or transfer_open:
        flow_l_per_min, moved_l = _flow(body, bottom_l if basket is Basket.IN else liquid_l, pump_on, dt_s)
        if transfer_open:
            out_l = moved_l
        else:
            pumped_l = moved_l
    new_water_kg, new_extract_kg = water_kg - evaporated_kg, extract_kg
    out_kg = out_extract_kg = 0.0
    if out_l > 0.0:
        out_water_kg, out_extract_kg = water_kg * out_l / liquid_l, extract_kg * out_l / liquid_l
        out_kg = out_water_kg + out_extract_kg
        new_water_kg -= out_water_kg
        new_extract_kg -= out_extract_kg

    # Out of the malt, and out of a hanging basket.
    bed = basket is Basket.IN
    old_cell = new_cell = FITTINGS_J_PER_K
    drained = basket_lost_j = in_bed_kg = 0.0
    if bed:
        old_cell += grain_j_per_k(body, malt_kg, malt_extract_kg) / 3.0
        dissolved_kg = malt_extract_kg * malt.dissolving_per_s(heat.mid_c) * dt_s
        malt_extract_kg -= dissolved_kg
        new_extract_kg += dissolved_kg
        new_cell = old_cell - dissolved_kg * EXTRACT_J_PER_KG_K / 3.0
        shifted_l = (shifted_l + pumped_l) / (1.0 + bed_open_fraction * dt_s / _BED_PASSES_S)
        shifted_l = min(shifted_l, body.under_basket_l)
        in_bed_kg = malt_kg
    elif basket is Basket.LIFTED:
        part = malt.draining_fraction(body, matter, dt_s)
        drained = part * capacity_j_per_k(basket_water_kg, basket_extract_kg)
        new_water_kg += part * basket_water_kg
        new_extract_kg += part * basket_extract_kg
        basket_c, basket_lost_j = _hung(body, state, 1.0 - part, ambient_c, dt_s)
        basket_water_kg *= 1.0 - part
        basket_extract_kg *= 1.0 - part

    # How it stands afterwards, and how warm.
    new_l = new_water_kg * WATER_L_PER_KG + new_extract_kg * EXTRACT_L_PER_KG
    new_whole = new_water_kg * WATER_J_PER_KG_K + new_extract_kg * EXTRACT_J_PER_KG_K
    top_part, cell_part, bottom_part = divide(body, new_l, in_bed_kg, shifted_l)
    new_top, new_liquid, new_bottom = top_part * new_whole, cell_part * new_whole, bottom_part * new_whole
    new_cell += new_liquid
    before = (top + FITTINGS_J_PER_K, high + old_cell, mid + old_cell, low + old_cell, bottom + FITTINGS_J_PER_K)
    after = (new_top + FITTINGS_J_PER_K, new_cell, new_cell, new_cell, new_bottom + FITTINGS_J_PER_K)
    pumped, out = pumped_l * per_litre, out_l * per_litre
    cooled_fraction = coil_per_s = 0.0
    if coolant_l_per_min > 0.0:
        stream_w_per_k = (pumped + out) / dt_s
        cooled_fraction, coil_per_s = _chilled(body, coolant_l_per_min, stream_w_per_k, math.fsum(before))
    moves = Moves(
        dt_s,
        ambient_c,
        heater_w,
        bottom_l / body.element_cover_l if bottom_l < body.element_cover_l else 1.0,
        liquid_l / body.capacity_l,
        bed,
        pumped,
        cooled_fraction,
        coil_per_s,
        coolant_c,
        out,
        drained,
        heat.basket_c,
        evaporated_kg * WATER_J_PER_KG_K,
        evaporating_j + convected_j,
    )
    column = solved(body, heat, before, after, moves)

    # The surface: steam, foam, and what does not fit.
    boiling_c = boil_c(body, new_water_kg, new_extract_kg)
    steam_kg = spilled_kg = spilled_extract_kg = spilled_l = spilled_j = 0.0
    vapour_j = evaporating_j + evaporated_kg * WATER_J_PER_KG_K * top_c
    element_c, wall_c, new_top_c, high_c, mid_c, low_c, bottom_c, outside_j, chilled_j = column
    if bottom_c > boiling_c or low_c > boiling_c or mid_c > boiling_c or high_c > boiling_c or new_top_c > boiling_c:
        column, steam_kg = boiled(column, after, new_top, boiling_c)
        new_top_c, high_c, mid_c, low_c, bottom_c = column[2:7]
        vapour_j += steam_kg * (WATER_J_PER_KG_K * boiling_c + latent_heat_j_per_kg(boiling_c))
    if foam_l > 0.0 or new_top_c > boiling_c - NEAR_BOIL_K or new_l > _CALM_FRACTION * body.capacity_l:
        foam_l, unbroken_fraction, burst_l_per_s, spilled_l = _foamed(
            body, matter, lid_on, boiling_c, new_l, column, moves
        )
        if spilled_l > 0.0:
            spilled_l = min(spilled_l, _MOST_AT_ONCE * top_part * new_l)
            part = spilled_l / new_l
            spilled_extract_kg = part * new_extract_kg
            spilled_kg = part * new_water_kg + spilled_extract_kg
            spilled_j = part * new_whole * new_top_c
            new_top -= part * new_whole
            new_water_kg *= 1.0 - part
            new_extract_kg *= 1.0 - part

    out_j = 0.0
    if out_kg > 0.0:
        out_c = bottom_c - cooled_fraction * (bottom_c - coolant_c)
        out_j = out * out_c
        fermenter_kg += out_kg
        fermenter_extract_kg += out_extract_kg
        fermenter_c += (out_c - fermenter_c) * out_kg / fermenter_kg
    pocket_c, probe_c, return_pocket_c, return_probe_c, chiller_out_c = felt(body, heat, column, moves)
    return PlantState(
        Heat(
            element_c,
            wall_c,
            new_top_c,
            high_c,
            mid_c,
            low_c,
            bottom_c,
            new_top - steam_kg * WATER_J_PER_KG_K,
            new_liquid,
            new_liquid,
            new_liquid,
            new_bottom,
            basket_c,
            pocket_c,
            probe_c,
            return_pocket_c,
            return_probe_c,
            chiller_out_c,
        ),
        Matter(
            new_water_kg - steam_kg,
            new_extract_kg,
            malt_kg,
            malt_extract_kg,
            basket,
            basket_water_kg,
            basket_extract_kg,
            bed_open_fraction,
            shifted_l,
            flow_l_per_min,
            foam_l,
            unbroken_fraction,
            burst_l_per_s,
            steam_kg / dt_s,
            fermenter_kg,
            fermenter_extract_kg,
            fermenter_c,
        ),
        Sums(
            sums.electric_j + heater_w * dt_s,
            sums.slaking_j,
            sums.brought_j,
            sums.lost_j + convected_j + outside_j + basket_lost_j,
            sums.vapour_j + vapour_j,
            sums.chilled_j + chilled_j,
            sums.carried_j + out_j + spilled_j,
            sums.brought_kg,
            sums.brought_extract_kg,
            sums.evaporated_kg + evaporated_kg + steam_kg,
            sums.carried_kg + out_kg + spilled_kg,
            sums.carried_extract_kg + out_extract_kg + spilled_extract_kg,
            sums.boiled_over_l + spilled_l,
        ),
    )
