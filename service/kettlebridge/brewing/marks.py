"""Levels to read off the kettle, each as it is read: how warm the liquid is, and where the basket hangs."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from kettlebridge.brewing.day import Day
from kettlebridge.brewing.mash import GRAIN_ROOM_L_PER_KG
from kettlebridge.brewing.volumes import Volumes
from kettlebridge.brewing.water import hot_litres
from kettlebridge.brewing.water_plan import WaterPlan
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.recipe import Recipe


class MarkKind(Enum):
    """When the level is read."""

    FILL = "fill"
    MASH = "mash"
    SPARGED = "sparged"
    BOIL_BEGINS = "boil_begins"
    BOIL_ENDS = "boil_ends"
    CHILLED = "chilled"


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """`read_l` is what a scale in litres shows at `at_c`, grain included; `cold_l` the liquid at 20 °C."""

    kind: MarkKind
    cold_l: float
    read_l: float
    at_c: float
    basket_in: bool


def marks(recipe: Recipe, kettle: Kettle, day: Day, water: tuple[WaterPlan, Volumes]) -> tuple[Mark, ...]:
    """The day's levels in their order. The basket's own steel is left out: a tenth of a litre per kilogram."""
    plan, litres = water
    mash = recipe.mash
    found = [_mark(MarkKind.FILL, plan.fill_l, day.tap_c, basket_in=mash is not None)]
    if mash is not None:
        grain_l = GRAIN_ROOM_L_PER_KG * plan.grain_kg
        found.append(_mark(MarkKind.MASH, plan.fill_l, mash.rests[0].at_c, basket_in=True, grain_l=grain_l))
        found.append(_mark(MarkKind.SPARGED, litres.pre_boil_l, mash.rests[-1].at_c, basket_in=False))
    found.append(_mark(MarkKind.BOIL_BEGINS, litres.pre_boil_l, kettle.boil_c, basket_in=False))
    found.append(_mark(MarkKind.BOIL_ENDS, litres.post_boil_l, kettle.boil_c, basket_in=False))
    found.append(_mark(MarkKind.CHILLED, litres.post_boil_l, 20.0, basket_in=False))
    return tuple(found)


def _mark(kind: MarkKind, cold_l: float, at_c: float, *, basket_in: bool, grain_l: float = 0.0) -> Mark:
    return Mark(kind=kind, cold_l=cold_l, read_l=hot_litres(cold_l, at_c) + grain_l, at_c=at_c, basket_in=basket_in)
