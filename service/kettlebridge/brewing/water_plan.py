"""How a kettle's water is divided over mash and sparge, how hot it must be, and what hangs on the hook at the lift."""

from __future__ import annotations

from dataclasses import dataclass

from kettlebridge.brewing.day import Day
from kettlebridge.brewing.energy import before_cooling_c
from kettlebridge.brewing.gravity import WATER_20_C_KG_PER_L, density_kg_per_l_at_20_c
from kettlebridge.brewing.mash import (
    GRAIN_ROOM_L_PER_KG,
    malt,
    mash_capacity_j_per_k,
    strike_c,
    water_capacity_j_per_k,
)
from kettlebridge.brewing.vessel import covered_loss_w_per_k, steel_j_per_k, wetted_steel_j_per_k
from kettlebridge.brewing.volumes import Volumes
from kettlebridge.brewing.water import hot_litres
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.recipe import Recipe

RIM_FRACTION = 0.97
"""A mash is stirred: the last three per cent to the brim stay free."""
LEAST_SPARGE_L = 0.5
IN_BED_L_PER_KG = 2.0
"""Wort in and between the grains of a bed that has just been lifted (from memory)."""
S_PER_MIN = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterPlan:
    """Litres at 20 °C, temperatures of the liquid. `fill_l` goes in cold, before anything else."""

    fill_l: float
    sparge_l: float
    grain_kg: float
    moisture_fraction: float

    @property
    def litres_per_kg(self) -> float | None:
        """Water to grain in the mash; None without grain."""
        return self.fill_l / self.grain_kg if self.grain_kg else None


def water_plan(recipe: Recipe, kettle: Kettle, litres: Volumes) -> WaterPlan:
    """As thin a mash as the recipe wishes and the kettle holds; the rest is for the sparge, if it sparges at all."""
    grain_kg, wet_kg = 0.0, 0.0
    for each in recipe.mashed:
        grain_kg += each.kg
        wet_kg += each.kg * each.moisture_fraction
    fill_l = litres.total_water_l
    if recipe.mash is not None and recipe.mash.sparges:
        room_l = RIM_FRACTION * kettle.capacity_l - GRAIN_ROOM_L_PER_KG * grain_kg
        room_l /= hot_litres(1.0, recipe.mash.rests[0].at_c)
        fill_l = min(fill_l, recipe.mash.water_l_per_kg * grain_kg, room_l)
        fill_l = min(max(fill_l, kettle.element_cover_l), litres.total_water_l)
        if litres.total_water_l - fill_l < LEAST_SPARGE_L and litres.total_water_l <= room_l:
            fill_l = litres.total_water_l
    return WaterPlan(
        fill_l=fill_l,
        sparge_l=litres.total_water_l - fill_l,
        grain_kg=grain_kg,
        moisture_fraction=wet_kg / grain_kg if grain_kg else 0.0,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Strike:
    """`water_c` when the heater goes off, `poured_c` when the grain meets it; `per_min_c` is what each minute costs."""

    water_c: float
    poured_c: float
    per_min_c: float


def strike(plan: WaterPlan, kettle: Kettle, day: Day, first_rest_c: float) -> Strike:
    """Water that lands the stirred-in mash on the first rest, the wait with the heater off included.

    What of kettle and basket stands in the water is as hot as that. The wait is under the lid.
    """
    grain = malt(plan.grain_kg, day.grain_c, plan.moisture_fraction)
    steel = wetted_steel_j_per_k(kettle, plan.fill_l)
    poured_c = strike_c(plan.fill_l, first_rest_c, grain, warm_j_per_k=steel)
    loss_w_per_k = covered_loss_w_per_k(kettle, poured_c, day.room_c)
    capacity = water_capacity_j_per_k(plan.fill_l) + steel
    water_c = before_cooling_c(poured_c, day.room_c, loss_w_per_k, capacity, S_PER_MIN * day.dough_in_min)
    per_min_c = S_PER_MIN * loss_w_per_k * (poured_c - day.room_c) / capacity
    return Strike(water_c=water_c, poured_c=poured_c, per_min_c=per_min_c)


def mash_j_per_k(plan: WaterPlan, kettle: Kettle, day: Day) -> float:
    """Heat capacity of the mash with its kettle."""
    grain = malt(plan.grain_kg, day.grain_c, plan.moisture_fraction)
    return mash_capacity_j_per_k(plan.fill_l, grain) + steel_j_per_k(kettle)


@dataclass(frozen=True, slots=True, kw_only=True)
class LiftWeight:
    """What hangs at the hook, basket included, as it leaves the wort and once it has drained."""

    undrained_kg: float
    drained_kg: float


def lift_weight(plan: WaterPlan, kettle: Kettle, wort_plato: float) -> LiftWeight:
    """By mass: grain and water that went in, less the wort that ran out; `wort_plato` is of the wort in the mash."""
    wort_kg_per_l = density_kg_per_l_at_20_c(wort_plato)
    absorbed_l = kettle.grain_absorption_l_per_kg * plan.grain_kg
    held_kg = plan.fill_l * WATER_20_C_KG_PER_L - (plan.fill_l - absorbed_l) * wort_kg_per_l
    drained_kg = kettle.basket_kg + plan.grain_kg + held_kg
    in_bed_l = min(IN_BED_L_PER_KG * plan.grain_kg, plan.fill_l)
    undrained_kg = max(kettle.basket_kg + plan.grain_kg + in_bed_l * wort_kg_per_l, drained_kg)
    return LiftWeight(undrained_kg=undrained_kg, drained_kg=drained_kg)
