"""Heat by nameplate: what full power, losses and litres make of a temperature, in closed form."""

from __future__ import annotations

import math
from typing import NamedTuple

from kettlebridge.brewing.day import ROOM_C
from kettlebridge.brewing.energy import BOIL_OFF_W_PER_L_H
from kettlebridge.brewing.water import WATER_J_PER_KG_K
from kettlebridge.model.kettle import Kettle

MALT_J_PER_KG_K = 1700.0
"""Malt at 2-4 % moisture: 1.63-1.68 kJ/kgK (malt supplier's tables after Pauls & Whites 1984/85)."""


class Contents(NamedTuple):
    """What is heated."""

    volume_l: float
    grain_kg: float = 0.0

    @property
    def capacity_j_per_k(self) -> float:
        """Heat capacity of liquid and grain; the vessel's own is not on its nameplate."""
        return WATER_J_PER_KG_K * self.volume_l + MALT_J_PER_KG_K * self.grain_kg


class Way(NamedTuple):
    """From where to where a liquid is to be heated, and what it loses heat to meanwhile."""

    from_c: float
    to_c: float
    ambient_c: float = ROOM_C


def rise_c_per_s(kettle: Kettle, contents: Contents) -> float:
    """Rise at full power with no losses."""
    return kettle.heater_w / contents.capacity_j_per_k


def loss_fraction(kettle: Kettle, liquid_c: float, ambient_c: float) -> float:
    """Share of full power that only replaces what the vessel loses at `liquid_c`, evaporation not included."""
    return min(max(kettle.loss_w_per_k * (liquid_c - ambient_c) / kettle.heater_w, 0.0), 1.0)


def boil_fraction(kettle: Kettle, boil_off_l_per_h: float, ambient_c: float) -> float:
    """Share of full power that boils off `boil_off_l_per_h`, losses included."""
    needed_w = BOIL_OFF_W_PER_L_H * boil_off_l_per_h + kettle.loss_w_per_k * (kettle.boil_c - ambient_c)
    return min(needed_w / kettle.heater_w, 1.0)


class Rise(NamedTuple):
    """T' = rate u - loss (T - ambient), shown `delay_s` later; u is the heater's share of full power."""

    rate_c_per_s: float
    loss_per_s: float
    delay_s: float


def rise_by_nameplate(kettle: Kettle, contents: Contents) -> Rise:
    """By the kettle file alone: what interlocks go by."""
    cools = kettle.loss_w_per_k / contents.capacity_j_per_k
    return Rise(rate_c_per_s=rise_c_per_s(kettle, contents), loss_per_s=cools, delay_s=kettle.probe_delay_s)


def time_to_reach_s(kettle: Kettle, contents: Contents, way: Way, duty_fraction: float = 1.0) -> float | None:
    """Seconds at `duty_fraction` of full power by nameplate; None where losses never let it get there."""
    if way.to_c <= way.from_c:
        return 0.0
    if contents.capacity_j_per_k <= 0.0:
        return None
    return reach_s(rise_by_nameplate(kettle, contents), way, duty_fraction)


def reach_s(rise: Rise, way: Way, duty_fraction: float = 1.0) -> float | None:
    """Seconds until the reading gets there: ln[(a - b(T0 - Ta)) / (a - b(T1 - Ta))] / b, and the delay.

    None where losses never let it get there.
    """
    if way.to_c <= way.from_c:
        return 0.0
    a, b = rise.rate_c_per_s * duty_fraction, rise.loss_per_s
    net_from = a - b * (way.from_c - way.ambient_c)
    net_to = a - b * (way.to_c - way.ambient_c)
    if net_to <= 0.0 or net_from <= 0.0:
        return None
    if b == 0.0:
        return (way.to_c - way.from_c) / a + rise.delay_s
    return math.log(net_from / net_to) / b + rise.delay_s
