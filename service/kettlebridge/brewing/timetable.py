"""The day by the clock: what happens when, and when hands are needed."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from kettlebridge.brewing.chilling import W_PER_K_OF_L_PER_MIN, coil_effectiveness, coil_min, reachable_c
from kettlebridge.brewing.day import Day
from kettlebridge.brewing.energy import heating_s, most_boil_off_l_per_h
from kettlebridge.brewing.hop_plan import FALL_MIN
from kettlebridge.brewing.mash import water_capacity_j_per_k
from kettlebridge.brewing.vessel import (
    COIL_W_PER_K,
    COOLING_L_PER_MIN,
    covered_loss_w_per_k,
    open_vapour_l_per_h,
    steel_j_per_k,
)
from kettlebridge.brewing.volumes import Volumes
from kettlebridge.brewing.water_plan import WaterPlan, mash_j_per_k
from kettlebridge.model.kettle import ChillWay, Kettle
from kettlebridge.model.recipe import Recipe
from kettlebridge.model.units import MIN_PER_H, S_PER_MIN

RAMP_SHARE = 0.85
"""Of full power that a mash takes on its way up: the rest is held back near the target (estimate)."""
FILL_MIN = 10.0
INFUSING_MIN = 5.0
SPARGE_MIN_PER_L = 1.0
LEAST_SPARGE_MIN = 5.0
LIFT_MIN = 5.0
DRAIN_MIN = 10.0
AWAY_MIN = 3.0
FROM_CALL_TO_BOIL_MIN = 10.0
PITCH_MIN = 15.0
CLEAN_HANDS_MIN = 25.0
"""How long hands take (common practice, no source). From the call to the boil the lid is off and the last degrees are
tapered; cleaning has the cleaner's own 20 min in it, and what is filled in and rinsed out."""
SPARGE_READY_MIN = 5.0
TAKEN_OVER_SHARE = 0.9
"""Of another pot's power that ends in its water (estimate)."""
STAND_BY_UNDER_C = 4.0
"""Under the boil, where the climb waits for somebody at the kettle (common practice, no source)."""
IN_LINE_SHARE = 0.25
"""Of the pump's free flow that a throttled chiller passes (estimate)."""


class Phase(Enum):
    """Parts of the day, in their order."""

    FILL = "fill"
    HEAT = "heat"
    DOUGH_IN = "dough_in"
    INFUSE = "infuse"
    REST = "rest"
    LIFT = "lift"
    SPARGE = "sparge"
    DRAIN = "drain"
    BASKET_AWAY = "basket_away"
    CLIMB = "climb"
    HOT_BREAK = "hot_break"
    BOIL = "boil"
    STAND = "stand"
    CHILL = "chill"
    PITCH = "pitch"
    CLEAN = "clean"


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """One part of the day. `begin_min` counts from its first; `at_c` of what is held or reached."""

    phase: Phase
    name: str
    begin_min: float
    for_min: float
    hands: bool
    at_c: float | None = None

    @property
    def end_min(self) -> float:
        """When the next begins."""
        return self.begin_min + self.for_min


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    phase: Phase
    for_min: float
    hands: bool = False
    name: str = ""
    at_c: float | None = None


def timetable(
    recipe: Recipe, kettle: Kettle, day: Day, water: tuple[WaterPlan, Volumes], strike_c: float | None
) -> tuple[Slot, ...]:
    """The day's slots, one after another. Raises ValueError where the heater cannot bring the day to its boil."""
    plan, litres = water
    parts = [_Part(phase=Phase.FILL, for_min=FILL_MIN, hands=True)]
    if recipe.mash is not None and strike_c is not None:
        parts += _mash_parts(recipe, kettle, day, plan, strike_c)
    from_c = recipe.mash.rests[-1].at_c if recipe.mash is not None else day.tap_c
    parts += _boil_parts(recipe, kettle, day, litres, from_c)
    slots, begin_min = [], 0.0
    for part in parts:
        slots.append(
            Slot(
                phase=part.phase,
                name=part.name,
                begin_min=begin_min,
                for_min=part.for_min,
                hands=part.hands,
                at_c=part.at_c,
            )
        )
        begin_min += part.for_min
    return tuple(slots)


def _mash_parts(recipe: Recipe, kettle: Kettle, day: Day, plan: WaterPlan, strike_c: float) -> list[_Part]:
    if recipe.mash is None:
        return []
    water = water_capacity_j_per_k(plan.fill_l) + steel_j_per_k(kettle)
    loss_w_per_k = covered_loss_w_per_k(kettle, strike_c, day.room_c)
    heat_s = heating_s(water, kettle.heater_w, loss_w_per_k, (day.tap_c, strike_c, day.room_c))
    parts = [
        _Part(phase=Phase.HEAT, for_min=heat_s / S_PER_MIN, at_c=strike_c),
        _Part(phase=Phase.DOUGH_IN, for_min=day.dough_in_min, hands=True),
    ]
    before_c = recipe.mash.rests[0].at_c
    for nth, rest in enumerate(recipe.mash.rests):
        if plan.infusions_l[nth]:
            parts.append(_Part(phase=Phase.INFUSE, for_min=INFUSING_MIN, hands=True, name=rest.name, at_c=rest.at_c))
            before_c = rest.at_c
        span_c = (before_c, rest.at_c, day.room_c)
        mash = mash_j_per_k(plan, kettle, nth)
        ramp_s = heating_s(mash, RAMP_SHARE * kettle.heater_w, loss_w_per_k, span_c)
        rest_min = ramp_s / S_PER_MIN + rest.for_min
        parts.append(_Part(phase=Phase.REST, for_min=rest_min, name=rest.name, at_c=rest.at_c))
        before_c = rest.at_c
    parts.append(_Part(phase=Phase.LIFT, for_min=LIFT_MIN, hands=True))
    if plan.sparge_l:
        sparge_min = max(SPARGE_MIN_PER_L * plan.sparge_l, LEAST_SPARGE_MIN)
        parts.append(_Part(phase=Phase.SPARGE, for_min=sparge_min, hands=True, at_c=recipe.mash.sparge_c))
    parts.append(_Part(phase=Phase.DRAIN, for_min=DRAIN_MIN))
    parts.append(_Part(phase=Phase.BASKET_AWAY, for_min=AWAY_MIN, hands=True))
    return parts


def _boil_parts(recipe: Recipe, kettle: Kettle, day: Day, litres: Volumes, from_c: float) -> list[_Part]:
    wort = water_capacity_j_per_k(litres.pre_boil_l) + steel_j_per_k(kettle)
    stand_by_c = kettle.boil_c - STAND_BY_UNDER_C
    loss_w_per_k = covered_loss_w_per_k(kettle, stand_by_c, day.room_c)
    climb_s = heating_s(wort, kettle.heater_w, loss_w_per_k, (from_c, stand_by_c, day.room_c))
    parts = [
        _Part(phase=Phase.CLIMB, for_min=climb_s / S_PER_MIN, at_c=stand_by_c),
        _Part(phase=Phase.HOT_BREAK, for_min=FROM_CALL_TO_BOIL_MIN, hands=True, at_c=kettle.boil_c),
        _Part(phase=Phase.BOIL, for_min=recipe.boil_min, at_c=kettle.boil_c),
    ]
    hot_c = kettle.boil_c
    if recipe.stand is not None:
        hot_c = recipe.stand.at_c
        parts.append(_Part(phase=Phase.STAND, for_min=FALL_MIN + recipe.stand.for_min, at_c=hot_c))
    parts.append(
        _Part(phase=Phase.CHILL, for_min=chill_min(recipe, kettle, day, litres, hot_c), at_c=chilled_c(recipe, day))
    )
    parts.append(_Part(phase=Phase.PITCH, for_min=PITCH_MIN, hands=True))
    parts.append(_Part(phase=Phase.CLEAN, for_min=CLEAN_HANDS_MIN, hands=True))
    return parts


def chilled_c(recipe: Recipe, day: Day) -> float:
    """What the wort is chilled to: pitching, or the coldest that the tap allows."""
    return reachable_c(recipe.yeast.pitch_c, day.tap_c)


def chill_min(recipe: Recipe, kettle: Kettle, day: Day, litres: Volumes, from_c: float) -> float:
    """A coil's time by its balance; in line as fast as the pump may run through the chiller (estimate)."""
    if kettle.chill is ChillWay.IN_LINE:
        return litres.into_fermenter_l / (IN_LINE_SHARE * kettle.pump_l_per_min)
    exchange = coil_effectiveness(COIL_W_PER_K, COOLING_L_PER_MIN) * COOLING_L_PER_MIN * W_PER_K_OF_L_PER_MIN
    return coil_min(litres.post_boil_l, from_c, chilled_c(recipe, day), day.tap_c, exchange)


def pot_min(litres: float, day: Day, to_c: float) -> float:
    """How long the other pot needs for that much water."""
    power_w = TAKEN_OVER_SHARE * day.sparge_pot_w
    water = water_capacity_j_per_k(litres)
    return heating_s(water, power_w, 0.0, (day.tap_c, to_c, day.room_c)) / S_PER_MIN


def heat_can_boil(kettle: Kettle, day: Day) -> float:
    """The hardest boil that the element gives in this room, L/h."""
    return most_boil_off_l_per_h(kettle.heater_w, kettle.loss_w_per_k, kettle.boil_c, day.room_c)


def climb_vapour_l(kettle: Kettle, day: Day) -> float:
    """What rises with the lid off between the call to the kettle and the boil."""
    half_way_c = kettle.boil_c - STAND_BY_UNDER_C / 2.0
    return open_vapour_l_per_h(kettle, half_way_c, day.room_c) * FROM_CALL_TO_BOIL_MIN / MIN_PER_H
