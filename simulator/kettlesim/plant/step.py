"""One step of the plant: ``step(body, state, inputs, dt_s) -> state``, pure."""

from __future__ import annotations

import math
from typing import NamedTuple

from kettlesim.plant import chiller, foam, malt, surface, water
from kettlesim.plant.body import Body, Chill
from kettlesim.plant.boil import boiled
from kettlesim.plant.chain import Capacities, Moves, Solved, solved
from kettlesim.plant.layout import divide
from kettlesim.plant.state import (
    FITTINGS_J_PER_K,
    WATER_J_PER_KG_K,
    Basket,
    Heat,
    Matter,
    PlantInputs,
    PlantState,
    Sums,
    boil_c,
    capacity_j_per_k,
    grain_j_per_k,
    litres,
)

LONGEST_S = 1.0
"""Of a sub-step: within 0.05 °C of sub-steps of 0.05 s, which a test shows."""
_PRIMED_FRACTION = 0.15
"""Of the bottom zone: with less liquid than that the pump begins to draw air."""
_GRAVITY_FRACTION = 0.6
"""What runs through an open tap with the pump off, of the pump's free flow."""
_BED_PASSES_S = 5.0
"""Litres standing on an open bed divided by the flow through it; a stuck bed needs more, up to for ever."""
_BASKET_W_PER_K = 3.0
"""From a hanging basket to the room."""
_CALM_FRACTION = 0.9
"""Of the capacity: with less liquid than that, and no foam, nothing can go over the rim."""
_AIR_CONTACT_FRACTION = 0.05
"""Of the bottom zone: with less liquid than that the control probe's pocket feels the wall."""
_PIPE_S, _IDLE_PIPE_S = 8.0, 300.0
"""How fast a probe in the chiller's outlet follows the stream, and the room without one."""
_MOST_AT_ONCE = 0.5
"""Of a node, what one stream may take in a step; binds only in a kettle run dry."""


def step(body: Body, state: PlantState, inputs: PlantInputs, dt_s: float) -> PlantState:
    """The state ``dt_s`` later, with ``inputs`` unchanged meanwhile."""
    parts = max(1, math.ceil(dt_s / LONGEST_S - 1e-9))
    part_s = dt_s / parts
    for _ in range(parts):
        state = _advanced(body, state, inputs, part_s)
    return state


class _Streams(NamedTuple):
    """What moves in one sub-step, before the temperatures are known."""

    evaporated_kg: float
    convected_j: float
    dissolved_kg: float
    draining_fraction: float
    """Of a lifted basket's liquid, back into the kettle."""
    flow_l_per_min: float
    pumped_l: float
    out_l: float
    shifted_l: float


def _streams(body: Body, state: PlantState, inputs: PlantInputs, dt_s: float) -> _Streams:
    heat, matter, _ = state
    liquid_l = litres(matter.water_kg, matter.extract_kg)
    per_s, convected_w = surface.losses(body, heat.top_c, inputs)
    evaporated_kg = min(per_s * dt_s, _MOST_AT_ONCE * heat.top_j_per_k / WATER_J_PER_KG_K)
    if liquid_l <= 0.0:
        convected_w = 0.0

    pumped_l = out_l = flow_l_per_min = 0.0
    if inputs.pump_on or inputs.transfer_open:
        whole = capacity_j_per_k(matter.water_kg, matter.extract_kg)
        bottom_l = liquid_l * heat.bottom_j_per_k / whole if whole > 0.0 else 0.0
        primed = min(bottom_l / (_PRIMED_FRACTION * body.under_basket_l), 1.0)
        flow_l_per_min = body.pump_l_per_min * primed * (1.0 if inputs.pump_on else _GRAVITY_FRACTION)
        moved_l = min(flow_l_per_min / 60.0 * dt_s, _MOST_AT_ONCE * bottom_l)
        if inputs.transfer_open:
            out_l = moved_l
        else:
            pumped_l = moved_l

    dissolved_kg = draining = shifted_l = 0.0
    if matter.basket is Basket.IN:
        shifted_l = (matter.shifted_l + pumped_l) / (1.0 + matter.bed_open_fraction * dt_s / _BED_PASSES_S)
        shifted_l = min(shifted_l, body.under_basket_l)
        dissolved_kg = matter.malt_extract_kg * malt.dissolving_per_s(heat.mid_c) * dt_s
    elif matter.basket is Basket.LIFTED:
        draining = malt.draining_fraction(body, matter, dt_s)
    return _Streams(
        evaporated_kg, convected_w * dt_s, dissolved_kg, draining, flow_l_per_min, pumped_l, out_l, shifted_l
    )


class _Liquid(NamedTuple):
    """Contents of the kettle after the streams, before anything boils or spills."""

    water_kg: float
    extract_kg: float
    malt_extract_kg: float
    liquid_l: float
    whole_j_per_k: float
    top_j_per_k: float
    cell_j_per_k: float
    bottom_j_per_k: float
    nodes: Capacities
    """The same with grain and fittings."""


def _liquid(body: Body, matter: Matter, streams: _Streams) -> _Liquid:
    liquid_l = litres(matter.water_kg, matter.extract_kg)
    left = 1.0 - streams.out_l / liquid_l if streams.out_l > 0.0 else 1.0
    draining = streams.draining_fraction
    water_kg = matter.water_kg * left - streams.evaporated_kg + draining * matter.basket_water_kg
    extract_kg = matter.extract_kg * left + streams.dissolved_kg + draining * matter.basket_extract_kg
    malt_extract_kg = matter.malt_extract_kg - streams.dissolved_kg
    grain = malt_kg = 0.0
    if matter.basket is Basket.IN:
        malt_kg = matter.malt_kg
        grain = grain_j_per_k(body, malt_kg, malt_extract_kg) / 3.0
    liquid_l = litres(water_kg, extract_kg)
    whole = capacity_j_per_k(water_kg, extract_kg)
    top, cell, bottom = divide(body, liquid_l, malt_kg, streams.shifted_l)
    top *= whole
    cell *= whole
    bottom *= whole
    in_cell = cell + grain + FITTINGS_J_PER_K
    nodes = (top + FITTINGS_J_PER_K, in_cell, in_cell, in_cell, bottom + FITTINGS_J_PER_K)
    return _Liquid(water_kg, extract_kg, malt_extract_kg, liquid_l, whole, top, cell, bottom, nodes)


def _moves(
    body: Body, state: PlantState, inputs: PlantInputs, streams: _Streams, dt_s: float
) -> tuple[Capacities, Moves]:
    """The nodes' capacities before the step and what moves between them, in the column's terms."""
    heat, matter, _ = state
    cell = FITTINGS_J_PER_K
    bed = matter.basket is Basket.IN
    if bed:
        cell += grain_j_per_k(body, matter.malt_kg, matter.malt_extract_kg) / 3.0
    before = (
        heat.top_j_per_k + FITTINGS_J_PER_K,
        heat.high_j_per_k + cell,
        heat.mid_j_per_k + cell,
        heat.low_j_per_k + cell,
        heat.bottom_j_per_k + FITTINGS_J_PER_K,
    )
    liquid_l = litres(matter.water_kg, matter.extract_kg)
    per_litre = capacity_j_per_k(matter.water_kg, matter.extract_kg) / liquid_l if liquid_l > 0.0 else 0.0
    pumped, out = streams.pumped_l * per_litre, streams.out_l * per_litre
    bottom_l = heat.bottom_j_per_k / per_litre if per_litre > 0.0 else 0.0
    drained = 0.0
    if streams.draining_fraction > 0.0:
        drained = streams.draining_fraction * capacity_j_per_k(matter.basket_water_kg, matter.basket_extract_kg)
    cooled = coil_per_s = 0.0
    if inputs.coolant_l_per_min > 0.0:
        coolant = chiller.coolant_w_per_k(inputs.coolant_l_per_min)
        if body.chill is Chill.IN_KETTLE:
            coil_per_s = chiller.coil_w_per_k(body.chiller_w_per_k, coolant) / math.fsum(before)
        elif pumped + out > 0.0:
            cooled = chiller.cooled_fraction(body.chiller_w_per_k, (pumped + out) / dt_s, coolant)
    return before, Moves(
        dt_s,
        inputs.ambient_c,
        inputs.heater_w,
        min(bottom_l / body.element_cover_l, 1.0),
        min(liquid_l / body.capacity_l, 1.0),
        bed,
        pumped,
        cooled,
        coil_per_s,
        inputs.coolant_c,
        out,
        drained,
        heat.basket_c,
        streams.evaporated_kg * WATER_J_PER_KG_K,
        streams.evaporated_kg * water.latent_heat_j_per_kg(heat.top_c) + streams.convected_j,
    )


class _Top(NamedTuple):
    """What leaves the surface as steam or over the rim in a sub-step, and the foam left on it."""

    steam_kg: float
    steam_j: float
    """Enthalpy it took along."""
    spilled_fraction: float
    """Of the kettle's liquid."""
    foam_l: float
    unbroken_fraction: float
    burst_l_per_s: float


def _surfaced(  # noqa: PLR0913
    body: Body, matter: Matter, liquid: _Liquid, column: Solved, moves: Moves, collapse_s: float
) -> tuple[Solved, _Top]:
    """Boil what is too hot, grow the foam, spill what does not fit."""
    limit_c = boil_c(body, liquid.water_kg, liquid.extract_kg)
    steam_kg = steam_j = 0.0
    if max(column[2:7]) > limit_c:
        column, steam_kg = boiled(column, liquid.nodes, liquid.top_j_per_k, limit_c)
        steam_j = steam_kg * (WATER_J_PER_KG_K * limit_c + water.latent_heat_j_per_kg(limit_c))
    near = foam.near_boil_fraction(column.top_c, limit_c)
    if near == 0.0 and matter.foam_l == 0.0 and liquid.liquid_l < _CALM_FRACTION * body.capacity_l:
        return column, _Top(steam_kg, steam_j, 0.0, 0.0, matter.unbroken_fraction, 0.0)
    heating_j = body.element_w_per_k * moves.cover_fraction * (column.element_c - column.bottom_c) * moves.dt_s
    foam_l, unbroken, burst_l_per_s = foam.grown(body, matter, collapse_s, near, heating_j, moves.dt_s)
    malt_kg = matter.malt_kg if moves.bed else 0.0
    room_l = foam.headspace_l(body, liquid.liquid_l, 0.5 * (column.top_c + column.low_c), malt_kg)
    spilled_l = max(-room_l, 0.0)
    if foam_l > room_l:
        spilled_l += foam.WORT_L_PER_FOAM_L * (foam_l - max(room_l, 0.0))
        foam_l = max(room_l, 0.0)
    top_l = liquid.liquid_l * liquid.top_j_per_k / liquid.whole_j_per_k if liquid.whole_j_per_k > 0.0 else 0.0
    spilled_l = min(spilled_l, _MOST_AT_ONCE * top_l)
    spilled_fraction = spilled_l / liquid.liquid_l if spilled_l > 0.0 else 0.0
    return column, _Top(steam_kg, steam_j, spilled_fraction, foam_l, unbroken, burst_l_per_s)


def _felt(body: Body, heat: Heat, inputs: PlantInputs, column: Solved, moves: Moves) -> tuple[float, ...]:
    """Both stages of the two probes in the liquid, and the one in the chiller's outlet, by the trapezoidal rule.

    Two equal lags, a pocket and the sensor in it: a reading that starts with no slope, as that of a real pocket does.
    """
    dt_s = moves.dt_s
    bottom_c, old_bottom_c = column.bottom_c, heat.bottom_c
    share = body.probe_stream_fraction
    stream_c = share * bottom_c + (1.0 - share) * column.low_c
    old_c = share * old_bottom_c + (1.0 - share) * heat.low_c
    wet = moves.cover_fraction * body.element_cover_l / (_AIR_CONTACT_FRACTION * body.under_basket_l)
    if wet < 1.0:
        stream_c = wet * stream_c + (1.0 - wet) * column.wall_c
        old_c = stream_c
    back_c, old_back_c = column.top_c, heat.top_c
    outlet_c, pipe_s = inputs.ambient_c, _IDLE_PIPE_S
    if moves.pumped_j_per_k > 0.0 or moves.out_j_per_k > 0.0:
        passed_c = bottom_c - moves.cooled_fraction * (bottom_c - moves.coolant_c)
        if moves.pumped_j_per_k > 0.0:
            back_c = old_back_c = passed_c
        if body.chill is Chill.IN_LINE:
            outlet_c, pipe_s = passed_c, _PIPE_S
    gain = dt_s / (0.5 * body.probe_lag_s + 0.5 * dt_s)
    pocket_c = heat.pocket_c + gain * (0.5 * (old_c + stream_c) - heat.pocket_c)
    probe_c = heat.probe_c + gain * (0.5 * (heat.pocket_c + pocket_c) - heat.probe_c)
    return_pocket_c = heat.return_pocket_c + gain * (0.5 * (old_back_c + back_c) - heat.return_pocket_c)
    return_probe_c = heat.return_probe_c + gain * (0.5 * (heat.return_pocket_c + return_pocket_c) - heat.return_probe_c)
    chiller_out_c = heat.chiller_out_c + (outlet_c - heat.chiller_out_c) * dt_s / (pipe_s + dt_s)
    return pocket_c, probe_c, return_pocket_c, return_probe_c, chiller_out_c


def _hung(  # noqa: PLR0913
    body: Body, heat: Heat, matter: Matter, kept: float, ambient_c: float, dt_s: float
) -> tuple[float, float]:
    """Temperature of a lifted basket of which ``kept`` of the liquid stays, and the heat (J) it gave to the room."""
    hanging = kept * capacity_j_per_k(matter.basket_water_kg, matter.basket_extract_kg)
    hanging += grain_j_per_k(body, matter.malt_kg, matter.malt_extract_kg)
    lost_j = (heat.basket_c - ambient_c) * hanging * dt_s / (hanging / _BASKET_W_PER_K + dt_s)
    return heat.basket_c - lost_j / hanging, lost_j


def _advanced(body: Body, state: PlantState, inputs: PlantInputs, dt_s: float) -> PlantState:
    """One sub-step: what moves, then how warm everything is, then what boils, foams over and is felt by the probes."""
    heat, matter, sums = state
    streams = _streams(body, state, inputs, dt_s)
    liquid = _liquid(body, matter, streams)
    before, moves = _moves(body, state, inputs, streams, dt_s)
    column = solved(body, heat, before, liquid.nodes, moves)
    collapse_s = foam.COLLAPSE_LID_S if inputs.lid_on else foam.COLLAPSE_S
    column, top = _surfaced(body, matter, liquid, column, moves, collapse_s)
    spilled = top.spilled_fraction
    spilled_j_per_k = spilled * liquid.whole_j_per_k

    out_kg = out_extract_kg = out_c = 0.0
    if moves.out_j_per_k > 0.0:
        part = streams.out_l / litres(matter.water_kg, matter.extract_kg)
        out_extract_kg = part * matter.extract_kg
        out_kg = part * matter.water_kg + out_extract_kg
        out_c = column.bottom_c - moves.cooled_fraction * (column.bottom_c - moves.coolant_c)
    kept = 1.0 - streams.draining_fraction
    basket_c, basket_lost_j = heat.basket_c, 0.0
    if matter.basket is Basket.LIFTED:
        basket_c, basket_lost_j = _hung(body, heat, matter, kept, inputs.ambient_c, dt_s)
    fermenter_kg = matter.fermenter_kg + out_kg
    return PlantState(
        Heat(
            *column[:7],
            liquid.top_j_per_k - spilled_j_per_k - top.steam_kg * WATER_J_PER_KG_K,
            liquid.cell_j_per_k,
            liquid.cell_j_per_k,
            liquid.cell_j_per_k,
            liquid.bottom_j_per_k,
            basket_c,
            *_felt(body, heat, inputs, column, moves),
        ),
        Matter(
            liquid.water_kg * (1.0 - spilled) - top.steam_kg,
            liquid.extract_kg * (1.0 - spilled),
            matter.malt_kg,
            liquid.malt_extract_kg,
            matter.basket,
            matter.basket_water_kg * kept,
            matter.basket_extract_kg * kept,
            matter.bed_open_fraction,
            streams.shifted_l,
            streams.flow_l_per_min,
            top.foam_l,
            top.unbroken_fraction,
            top.burst_l_per_s,
            top.steam_kg / dt_s,
            fermenter_kg,
            matter.fermenter_extract_kg + out_extract_kg,
            matter.fermenter_c + (out_c - matter.fermenter_c) * out_kg / fermenter_kg
            if out_kg > 0.0
            else matter.fermenter_c,
        ),
        Sums(
            sums.electric_j + inputs.heater_w * dt_s,
            sums.slaking_j,
            sums.brought_j,
            sums.lost_j + streams.convected_j + column.outside_j + basket_lost_j,
            sums.vapour_j + moves.surface_j - streams.convected_j + moves.vapour_j_per_k * heat.top_c + top.steam_j,
            sums.chilled_j + column.chilled_j,
            sums.carried_j + moves.out_j_per_k * out_c + spilled_j_per_k * column.top_c,
            sums.brought_kg,
            sums.brought_extract_kg,
            sums.evaporated_kg + streams.evaporated_kg + top.steam_kg,
            sums.carried_kg + out_kg + spilled * (liquid.water_kg + liquid.extract_kg),
            sums.carried_extract_kg + out_extract_kg + spilled * liquid.extract_kg,
            sums.boiled_over_l + spilled * liquid.liquid_l,
        ),
    )
