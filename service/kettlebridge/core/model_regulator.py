"""The model-based regulator: an observer says where the heat is, a feed-forward law puts in what is missing.

    u = [losses + (wanted - zone) / t_c] / heat,   between 0 and 1

There is no integral to wind up and no mode to switch: full power lasts until what is on its way is enough, and then
turns into the losses' share. t_c is about the delay from element to probe. In a mash the zone under the basket is what
the heater sees, and the grain bed is what is wanted: the zone is held above it by what the stream loses on its way.
"""

from __future__ import annotations

from typing import NamedTuple

from kettlebridge.brewing.water import WATER_J_PER_KG_K
from kettlebridge.core.bed import Bed
from kettlebridge.core.heat import Contents
from kettlebridge.core.known import Known, capacity_j_per_k, promised_c_per_s
from kettlebridge.core.ledger import GRAIN_IN, Ledger
from kettlebridge.core.observer import Estimate, Model
from kettlebridge.model.kettle import Kettle

CREEP_W_PER_K_AT_20_L = 25.0
"""Between the zone under the basket and a bed that nothing flows through (estimate, no source)."""
SHORTEST_TC_S = 10.0
TC_PER_DELAY = 0.5
GUARD_C = 0.3
GUARD_MASH_C = 0.4
GUARD_CONTACTOR_S = 2.5
DRIFT_LEAST, DRIFT_MOST = -0.25, 0.125
"""Of the rise at full power: what a lid, a draught or a weak mains may make of it."""
FLOW_SPREAD = 0.3
GAIN_SPREAD = 0.2
FLOW_DRIFT_S = 150.0
"""The stream through the bed is known to 30 %, and changes with the bed over minutes (estimates, no source)."""
ZONE_WANDER, UPPER_WANDER, DRIFT_WANDER = 9e-6, 1e-4, 1e-8
BOOST_C = 1.0
BOOST_PER_C = 0.4
THICK_L_PER_KG = 3.0
THICK_CEILING_FRACTION = 0.6
"""Scorching: a thick mash moves slowly over the element."""


def ceiling_fraction(ledger: Ledger) -> float:
    """The most of full power that a mash as thick as this should see."""
    if ledger.grain is not GRAIN_IN or not ledger.grain_kg or ledger.volume_l is None:
        return 1.0
    return THICK_CEILING_FRACTION if ledger.volume_l / ledger.grain_kg < THICK_L_PER_KG else 1.0


def water_model(kettle: Kettle, known: Known, volume_l: float, ambient_c: float) -> Model:
    """One body of liquid."""
    contents = Contents(volume_l=volume_l)
    heat = promised_c_per_s(kettle, contents) * known.rate_fraction
    cools = known.loss_w_per_k / kettle.heater_w * promised_c_per_s(kettle, contents)
    return Model(
        heat_c_per_s=heat,
        zone_out=cools,
        zone_in=0.0,
        zone_feed=cools * ambient_c,
        upper_in=0.0,
        upper_out=0.0,
        upper_feed=0.0,
        upper_drift=0.0,
        drift_out=0.0,
        tau_s=known.delay_s / 2.0,
        lift_c=known.lift_c,
        zone_wander=4e-6,
        upper_wander=0.0,
        drift_wander=9e-10,
        flow_wander=0.0,
        gain_wander=0.0,
        lag_wander=1e-6,
        drift_least=DRIFT_LEAST * heat,
        drift_most=DRIFT_MOST * heat,
    )


def mash_model(kettle: Kettle, known: Known, ledger: Ledger, ambient_c: float, pump_on: bool) -> Model:
    """The zone under the basket, and all the rest, which the stream passes on its way round."""
    volume_l = ledger.volume_l or kettle.capacity_l
    zone_j_per_k = WATER_J_PER_KG_K * min(kettle.under_basket_l, 0.5 * volume_l)
    rest_j_per_k = capacity_j_per_k(Contents(volume_l=volume_l, grain_kg=ledger.grain_kg)) - zone_j_per_k
    stream_w_per_k = CREEP_W_PER_K_AT_20_L * (volume_l / 20.0) ** (2.0 / 3.0)
    if pump_on:
        stream_w_per_k += WATER_J_PER_KG_K * kettle.pump_l_per_min / 60.0
    heat = kettle.heater_w * known.rate_fraction / zone_j_per_k
    zone_h, rest_h = stream_w_per_k / zone_j_per_k, stream_w_per_k / rest_j_per_k
    cools = known.loss_w_per_k / rest_j_per_k
    return Model(
        heat_c_per_s=heat,
        zone_out=zone_h,
        zone_in=zone_h,
        zone_feed=0.0,
        upper_in=rest_h,
        upper_out=rest_h + cools,
        upper_feed=cools * ambient_c,
        upper_drift=zone_j_per_k / rest_j_per_k,
        drift_out=1.0 / FLOW_DRIFT_S,
        tau_s=known.delay_s / 2.0,
        lift_c=0.0,
        zone_wander=ZONE_WANDER * max(1.0, heat / 0.06) ** 2,
        upper_wander=UPPER_WANDER,
        drift_wander=DRIFT_WANDER * max(1.0, heat / 0.06) ** 2,
        flow_wander=2.0 * (FLOW_SPREAD * zone_h) ** 2 / FLOW_DRIFT_S,
        gain_wander=2.0 * (GAIN_SPREAD * heat) ** 2 / FLOW_DRIFT_S,
        lag_wander=1e-6,
        drift_least=-heat,
        drift_most=heat,
    )


class Aim(NamedTuple):
    """What is wanted, what the probe reads, and whether a contactor switches the heater."""

    target_c: float
    reading_c: float
    contactor: bool


def water_duty(e: Estimate, m: Model, aim: Aim) -> float:
    """The duty (0-1) that takes all of the liquid to the target, on the mean; the probe near the element reads more."""
    losses = m.zone_out * e.zone_c - m.zone_feed - e.drift_c_per_s
    return _duty(m, aim, losses, aim.target_c - e.zone_c, aim.target_c + GUARD_C)


def mash_duty(e: Estimate, m: Model, aim: Aim, bed: Bed | None) -> float:
    """The duty (0-1) that takes the bed to the target, or the zone where there is no `bed` to control."""
    target_c = aim.target_c
    if bed is not None and bed.middle_c is not None:
        target_c += (bed.drop_c or 0.0) + min(max(BOOST_PER_C * (target_c - bed.middle_c), 0.0), BOOST_C)
    passed_on = m.zone_out * e.zone_c - m.zone_in * e.upper_c - e.drift_c_per_s
    return _duty(m, aim, passed_on, target_c - e.zone_c, target_c + GUARD_MASH_C)


def _duty(m: Model, aim: Aim, losses: float, missing_c: float, guard_c: float) -> float:
    """The law itself; nothing while the probe reads more than `guard_c`, which a contactor's pulse may pass."""
    if aim.reading_c > guard_c + (GUARD_CONTACTOR_S * m.heat_c_per_s if aim.contactor else 0.0):
        return 0.0
    tc_s = max(TC_PER_DELAY * 2.0 * m.tau_s, SHORTEST_TC_S)
    return min(max((losses + missing_c / tc_s) / m.heat_c_per_s, 0.0), 1.0)
