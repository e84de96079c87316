"""How much of a recipe a kettle takes."""

from __future__ import annotations

from kettlebridge.brewing.brew_sheet import brew_sheet
from kettlebridge.brewing.cautions import fits
from kettlebridge.brewing.day import Day
from kettlebridge.brewing.scaling import scaled
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.recipe import Recipe

STEPS = 60
"""Volumes tried, evenly up to the kettle's capacity: a day can be too small as well as too big, so no halving."""


def volumes_that_fit(recipe: Recipe, kettle: Kettle, day: Day) -> tuple[float, float] | None:
    """Smallest and largest volume into the fermenter of a day that nothing stops; None where none fits."""
    found = [
        batch_l
        for batch_l in (kettle.capacity_l * (step + 1) / STEPS for step in range(STEPS))
        if _fits(recipe, kettle, day, batch_l)
    ]
    return (found[0], found[-1]) if found else None


def _fits(recipe: Recipe, kettle: Kettle, day: Day, batch_l: float) -> bool:
    try:
        return fits(brew_sheet(scaled(recipe, batch_l), kettle, day))
    except ValueError:
        return False
