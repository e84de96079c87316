"""The same beer in another volume, or from another efficiency."""

from __future__ import annotations

from dataclasses import replace

from kettlebridge.model.recipe import MASHED, Recipe


def scaled(recipe: Recipe, batch_l: float, efficiency_fraction: float | None = None) -> Recipe:
    """`recipe` for `batch_l` litres: every amount in proportion, what is mashed against efficiency, times unchanged."""
    factor = batch_l / recipe.batch_l
    efficiency = recipe.efficiency_fraction if efficiency_fraction is None else efficiency_fraction
    mashed = factor * recipe.efficiency_fraction / efficiency
    cells = recipe.yeast.cells_billion
    return replace(
        recipe,
        batch_l=batch_l,
        efficiency_fraction=efficiency,
        fermentables=tuple(
            replace(each, kg=each.kg * (mashed if each.kind in MASHED else factor)) for each in recipe.fermentables
        ),
        hops=tuple(replace(each, grams=each.grams * factor) for each in recipe.hops),
        additions=tuple(replace(each, grams=each.grams * factor) for each in recipe.additions),
        yeast=replace(recipe.yeast, cells_billion=None if cells is None else cells * factor),
    )
