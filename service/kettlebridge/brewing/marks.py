"""Levels to read off the kettle, each as it is read: how warm the liquid is, and where the basket hangs."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from kettlebridge.brewing.day import Day
from kettlebridge.brewing.interpolation import between
from kettlebridge.brewing.mash import GRAIN_ROOM_L_PER_KG
from kettlebridge.brewing.volumes import Volumes
from kettlebridge.brewing.water import hot_litres
from kettlebridge.brewing.water_plan import WaterPlan
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.recipe import Recipe

LEAST_MARKS = 2


class MarkKind(Enum):
    """When the level is read."""

    FILL = "fill"
    MASH = "mash"
    INFUSED = "infused"
    SPARGED = "sparged"
    BOIL_BEGINS = "boil_begins"
    BOIL_ENDS = "boil_ends"
    CHILLED = "chilled"


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """`read_l` is what a scale in litres shows at `at_c`, grain included; `cold_l` the liquid at 20 °C.

    `read_cm`: the same on the kettle's own scale; None without one.
    """

    kind: MarkKind
    cold_l: float
    read_l: float
    read_cm: float | None
    at_c: float
    basket_in: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class _Level:
    kind: MarkKind
    cold_l: float
    at_c: float
    basket_in: bool = False
    grain_l: float = 0.0


def marks(recipe: Recipe, kettle: Kettle, day: Day, water: tuple[WaterPlan, Volumes]) -> tuple[Mark, ...]:
    """The day's levels in their order. The basket's own steel is left out: a tenth of a litre per kilogram."""
    plan, litres = water
    mash = recipe.mash
    levels = [_Level(kind=MarkKind.FILL, cold_l=plan.fill_l, at_c=day.tap_c, basket_in=mash is not None)]
    if mash is not None:
        grain_l = GRAIN_ROOM_L_PER_KG * plan.grain_kg
        first_c, last_c = mash.rests[0].at_c, mash.rests[-1].at_c
        levels.append(_Level(kind=MarkKind.MASH, cold_l=plan.fill_l, at_c=first_c, basket_in=True, grain_l=grain_l))
        if any(plan.infusions_l):
            levels.append(
                _Level(kind=MarkKind.INFUSED, cold_l=plan.mash_l, at_c=last_c, basket_in=True, grain_l=grain_l)
            )
        levels.append(_Level(kind=MarkKind.SPARGED, cold_l=litres.pre_boil_l, at_c=last_c))
    levels.append(_Level(kind=MarkKind.BOIL_BEGINS, cold_l=litres.pre_boil_l, at_c=kettle.boil_c))
    levels.append(_Level(kind=MarkKind.BOIL_ENDS, cold_l=litres.post_boil_l, at_c=kettle.boil_c))
    levels.append(_Level(kind=MarkKind.CHILLED, cold_l=litres.post_boil_l, at_c=20.0))
    return tuple(_mark(kettle, level) for level in levels)


def _mark(kettle: Kettle, level: _Level) -> Mark:
    read_l = hot_litres(level.cold_l, level.at_c) + level.grain_l
    return Mark(
        kind=level.kind,
        cold_l=level.cold_l,
        read_l=read_l,
        read_cm=height_cm(kettle, read_l),
        at_c=level.at_c,
        basket_in=level.basket_in,
    )


def height_cm(kettle: Kettle, litres: float) -> float | None:
    """Where so many litres stand on the kettle's scale, straight between its marks and beyond the last two."""
    marks_l, marks_cm = [mark.litres for mark in kettle.marks], [mark.cm for mark in kettle.marks]
    if len(kettle.marks) < LEAST_MARKS:
        return None
    place, _ = between(marks_l, litres)
    slope = (marks_cm[place + 1] - marks_cm[place]) / (marks_l[place + 1] - marks_l[place])
    return marks_cm[place] + slope * (litres - marks_l[place])
