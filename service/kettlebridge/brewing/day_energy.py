"""Electricity of a brew day."""

from __future__ import annotations

from kettlebridge.brewing.day import Day
from kettlebridge.brewing.energy import boiling_w
from kettlebridge.brewing.mash import water_capacity_j_per_k
from kettlebridge.brewing.vessel import covered_loss_w_per_k, steel_j_per_k
from kettlebridge.brewing.volumes import Volumes
from kettlebridge.brewing.water_plan import WaterPlan, mash_j_per_k
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.recipe import Recipe
from kettlebridge.model.units import J_PER_KWH, S_PER_MIN

CLEANING_C = 60.0
CLEANING_SHARE = 0.45
"""Of the kettle's capacity that is heated for cleaning."""
HEATING_UP_MIN = 30.0
"""About how long each of the day's two climbs lasts, for what they lose (estimate)."""


def day_kwh(
    recipe: Recipe, kettle: Kettle, day: Day, water: tuple[WaterPlan, Volumes], strike_c: float | None
) -> float:
    """All that the element takes: heating, losses, boil, cleaning water. ±15 %; what another pot heats apart."""
    plan, litres = water
    steel = steel_j_per_k(kettle)
    joules = 0.0
    boil_from_c = day.tap_c
    if recipe.mash is not None and strike_c is not None:
        joules += (water_capacity_j_per_k(plan.fill_l) + steel) * (strike_c - day.tap_c)
        rests = recipe.mash.rests
        for nth, rest in enumerate(rests):
            heated = nth > 0 and not plan.infusions_l[nth]
            joules += mash_j_per_k(plan, kettle, nth) * (rest.at_c - rests[nth - 1].at_c) if heated else 0.0
        joules += _lost_j(kettle, day, strike_c, HEATING_UP_MIN)
        for rest in rests:
            joules += _lost_j(kettle, day, rest.at_c, rest.for_min)
        boil_from_c = rests[-1].at_c
    joules += (water_capacity_j_per_k(litres.pre_boil_l) + steel) * (kettle.boil_c - boil_from_c)
    joules += _lost_j(kettle, day, kettle.boil_c - 10.0, HEATING_UP_MIN)
    boil_w = boiling_w(kettle.boil_off_l_per_h, kettle.loss_w_per_k, kettle.boil_c, day.room_c)
    joules += min(boil_w, kettle.heater_w) * recipe.boil_min * S_PER_MIN
    joules += water_capacity_j_per_k(CLEANING_SHARE * kettle.capacity_l) * (CLEANING_C - day.tap_c)
    return joules / J_PER_KWH


def _lost_j(kettle: Kettle, day: Day, at_c: float, minutes: float) -> float:
    return covered_loss_w_per_k(kettle, at_c, day.room_c) * (at_c - day.room_c) * minutes * S_PER_MIN
