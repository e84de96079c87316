"""How a kettle's water is divided over mash and sparge, how hot it must be, and what hangs on the hook at the lift."""

from __future__ import annotations

from dataclasses import dataclass, replace

from kettlebridge.brewing.day import ROOM_C, Day
from kettlebridge.brewing.energy import before_cooling_c
from kettlebridge.brewing.gravity import WATER_20_C_KG_PER_L, density_kg_per_l_at_20_c
from kettlebridge.brewing.mash import (
    GRAIN_ROOM_L_PER_KG,
    malt,
    mash_capacity_j_per_k,
    strike_c,
    water_capacity_j_per_k,
    water_to_reach_l,
)
from kettlebridge.brewing.vessel import covered_loss_w_per_k, steel_j_per_k, wetted_steel_j_per_k
from kettlebridge.brewing.volumes import Volumes
from kettlebridge.brewing.water import hot_litres
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.recipe import Mash, Recipe, Way
from kettlebridge.model.units import S_PER_MIN

RIM_FRACTION = 0.97
"""A mash is stirred: the last three per cent to the brim stay free."""
LEAST_SPARGE_L = 0.5
IN_BED_L_PER_KG = 2.0
"""Wort in and between the grains of a bed that has just been lifted (from memory)."""
INFUSE_MIN = 3.0
"""From heater off to hot water stirred in (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterPlan:
    """Litres at 20 °C, temperatures of the liquid. `fill_l` goes in cold, before anything else.

    `infusions_l`: hot water for each rest, 0 for the first and for those the element reaches.
    """

    fill_l: float
    sparge_l: float
    grain_kg: float
    moisture_fraction: float
    infusions_l: tuple[float, ...] = ()

    def in_mash_l(self, rest: int) -> float:
        """The water in the mash during that rest."""
        litres = self.fill_l
        for infusion_l in self.infusions_l[: rest + 1]:
            litres += infusion_l
        return litres

    @property
    def mash_l(self) -> float:
        """The water in the mash at its end."""
        return self.in_mash_l(len(self.infusions_l))

    @property
    def litres_per_kg(self) -> float | None:
        """Water to grain at dough-in; None without grain."""
        return self.fill_l / self.grain_kg if self.grain_kg else None


def water_plan(recipe: Recipe, kettle: Kettle, litres: Volumes, day: Day) -> WaterPlan:
    """As thin a mash as the recipe wishes and the kettle holds; the rest is for the sparge, if it sparges at all.

    Raises ValueError where infusions take more water than there is.
    """
    grain_kg, wet_kg = 0.0, 0.0
    for each in recipe.mashed:
        grain_kg += each.kg
        wet_kg += each.kg * each.moisture_fraction
    dry = WaterPlan(
        fill_l=0.0, sparge_l=0.0, grain_kg=grain_kg, moisture_fraction=wet_kg / grain_kg if grain_kg else 0.0
    )
    if recipe.mash is None:
        return replace(dry, fill_l=litres.total_water_l)
    whole_l, pour = litres.total_water_l, _Pour(mash=recipe.mash, kettle=kettle, room_c=day.room_c)
    room_l = RIM_FRACTION * kettle.capacity_l - GRAIN_ROOM_L_PER_KG * grain_kg
    room_l /= hot_litres(1.0, recipe.mash.rests[0].at_c)
    fill_l = _largest_fill_l(pour, dry, whole_l)
    if fill_l <= 0.0:
        raise ValueError(f"its infusions take more than the {whole_l:.1f} L of water that the whole day has")
    if recipe.mash.sparges:
        least_l = min(kettle.element_cover_l, fill_l)
        most_l = min(fill_l, _largest_fill_l(pour, dry, room_l))
        fill_l = max(min(recipe.mash.water_l_per_kg * grain_kg, most_l), least_l)
    infusions_l = _infusions_l(pour, replace(dry, fill_l=fill_l))
    plan = replace(dry, fill_l=fill_l, infusions_l=infusions_l)
    sparge_l = max(whole_l - plan.mash_l, 0.0)
    if 0.0 < sparge_l < LEAST_SPARGE_L and whole_l <= room_l:
        fill_l = _largest_fill_l(pour, dry, whole_l)
        infusions_l = _infusions_l(pour, replace(dry, fill_l=fill_l))
        plan, sparge_l = replace(dry, fill_l=fill_l, infusions_l=infusions_l), 0.0
    return replace(plan, sparge_l=sparge_l)


def infusion_c(mash: Mash, kettle: Kettle) -> float:
    """Of the water that is poured in: nowhere hotter than it boils."""
    return min(mash.infusion_c, kettle.boil_c)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pour:
    """A mash that hot water is poured into."""

    mash: Mash
    kettle: Kettle
    room_c: float

    def lost_j(self, at_c: float) -> float:
        """Heat lost from heater off to the water stirred in."""
        loss_w = covered_loss_w_per_k(self.kettle, at_c, self.room_c) * (at_c - self.room_c)
        return loss_w * S_PER_MIN * INFUSE_MIN


def _infusions_l(pour: _Pour, plan: WaterPlan) -> tuple[float, ...]:
    """What each rest needs, one after another: the mash that the next one meets is the larger for it."""
    found: list[float] = []
    mash = pour.mash
    for nth, rest in enumerate(mash.rests):
        litres = 0.0
        if nth and rest.by is Way.INFUSION:
            there = mash_j_per_k(replace(plan, infusions_l=tuple(found)), pour.kettle, nth)
            cooled_c = mash.rests[nth - 1].at_c - pour.lost_j(mash.rests[nth - 1].at_c) / there
            litres = water_to_reach_l(there, cooled_c, rest.at_c, infusion_c(mash, pour.kettle))
        found.append(litres)
    return tuple(found)


def _largest_fill_l(pour: _Pour, dry: WaterPlan, most_l: float) -> float:
    """The largest filling that stays, its infusions included, within `most_l`: they grow straight with it."""
    none_l, one_l = 0.0, 0.0
    for litres in _infusions_l(pour, dry):
        none_l += litres
    for litres in _infusions_l(pour, replace(dry, fill_l=1.0)):
        one_l += litres
    return (most_l - none_l) / (1.0 + one_l - none_l)


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


def mash_j_per_k(plan: WaterPlan, kettle: Kettle, rest: int = 0) -> float:
    """Heat capacity of the mash with its kettle during that rest; grain has the same however warm it came."""
    grain = malt(plan.grain_kg, ROOM_C, plan.moisture_fraction)
    return mash_capacity_j_per_k(plan.in_mash_l(rest), grain) + steel_j_per_k(kettle)


@dataclass(frozen=True, slots=True, kw_only=True)
class LiftWeight:
    """What hangs at the hook, basket included, as it leaves the wort and once it has drained."""

    undrained_kg: float
    drained_kg: float


def lift_weight(plan: WaterPlan, kettle: Kettle, wort_plato: float) -> LiftWeight:
    """By mass: grain and water that went in, less the wort that ran out; `wort_plato` is of the wort in the mash."""
    wort_kg_per_l = density_kg_per_l_at_20_c(wort_plato)
    absorbed_l = kettle.grain_absorption_l_per_kg * plan.grain_kg
    held_kg = plan.mash_l * WATER_20_C_KG_PER_L - (plan.mash_l - absorbed_l) * wort_kg_per_l
    drained_kg = kettle.basket_kg + plan.grain_kg + held_kg
    in_bed_l = min(IN_BED_L_PER_KG * plan.grain_kg, plan.mash_l)
    undrained_kg = max(kettle.basket_kg + plan.grain_kg + in_bed_l * wort_kg_per_l, drained_kg)
    return LiftWeight(undrained_kg=undrained_kg, drained_kg=drained_kg)
