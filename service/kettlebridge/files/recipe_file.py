"""Loading a recipe."""

from __future__ import annotations

import os

from kettlebridge.files.document import Document, read_document
from kettlebridge.files.recipe_rules import recipe_findings
from kettlebridge.files.recipe_tables import RecipeTables
from kettlebridge.files.wording import in_order, validate
from kettlebridge.model.errors import FileError
from kettlebridge.model.recipe import Recipe


def load_recipe(path: str | os.PathLike[str]) -> Recipe:
    """Reads a recipe. Raises FileError with every mistake in it."""
    return recipe_of(read_document(path))


def recipe_of(document: Document) -> Recipe:
    """The recipe in a document, however that came about. Raises FileError with every mistake in it."""
    tables, mistakes = validate(RecipeTables, document)
    mistakes += [document.mistake(key, what) for key, what in recipe_findings(document.data)]
    if tables is None or mistakes:
        raise FileError(in_order(mistakes))
    return Recipe(
        name=tables.name,
        style=tables.style or "",
        notes=tables.notes,
        batch_l=tables.batch_l,
        efficiency_fraction=tables.efficiency_percent / 100.0,
        fermentables=tuple(grist.as_fermentable() for grist in tables.grist),
        hops=tuple(hop.as_hop() for hop in tables.hop),
        additions=tuple(addition.as_addition() for addition in tables.addition),
        mash=tables.mash.as_mash() if tables.mash else None,
        boil_min=tables.boil.for_min,
        stand=tables.stand.as_stand() if tables.stand else None,
        yeast=tables.yeast.as_yeast(),
        targets=tables.target.as_targets(),
    )
