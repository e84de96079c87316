"""Recipes in the open standards BeerXML 1.0 and BeerJSON 1.0, read as recipe files with a report of every field."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import tomlkit

from kettlebridge.files import beerjson, beerxml
from kettlebridge.files.document import content, refused
from kettlebridge.files.key_lines import KeyLines
from kettlebridge.files.recipe_file import recipe_of
from kettlebridge.files.source_fields import MAX_BYTES, Draft, Field, FieldNote, SourceDocument, Verdict
from kettlebridge.files.source_json import json_fields
from kettlebridge.files.source_xml import xml_fields
from kettlebridge.files.wording import in_order
from kettlebridge.model.errors import FileError, Mistake
from kettlebridge.model.recipe import Recipe

_UTF_16_MARKS = (b"\xff\xfe", b"\xfe\xff")


@dataclass(frozen=True, slots=True, kw_only=True)
class Imported:
    """One recipe. `text` is the recipe file that `load_recipe` reads back to `recipe`."""

    recipe: Recipe
    text: str
    notes: tuple[FieldNote, ...]


def import_recipes(path: str | os.PathLike[str]) -> tuple[Imported, ...]:
    """Every recipe in a file. Raises FileError, with the place of each mistake, when any of them cannot be used."""
    place = os.fspath(path)
    given = content(place, MAX_BYTES)
    if not given.strip():
        raise refused(place, None, "is empty")
    read, root, recipes, outside = _opened(place, given)
    if not recipes:
        raise refused(place, root.line, "holds no recipe")
    imported: list[Imported] = []
    mistakes: list[Mistake] = []
    for recipe in recipes:
        draft = Draft(path=place, recipe=recipe)
        try:
            imported.append(_imported(draft, read, outside if not imported else ()))
        except FileError as error:
            mistakes += error.mistakes
    if mistakes:
        raise FileError(in_order(mistakes))
    return tuple(imported)


def _opened(
    place: str, given: bytes
) -> tuple[Callable[[Draft], None], Field, tuple[Field, ...], tuple[FieldNote, ...]]:
    """How to read it, its root, its recipes, and notes of what lies outside them."""
    if _looks_like_xml(given):
        root = xml_fields(place, given)
        recipes = (root,) if root.name == "RECIPE" else tuple(each for each in root.children if each.name == "RECIPE")
        return beerxml.read_recipe, root, recipes, tuple(_outside(root, recipes))
    root = json_fields(place, given)
    recipes = beerjson.recipes_of(place, root)
    return beerjson.read_recipe, root, recipes, tuple(_outside(root, recipes))


def _looks_like_xml(given: bytes) -> bool:
    start = given[:200]
    if start.startswith(_UTF_16_MARKS):
        start = start.replace(b"\0", b"")[2:]
    return start.removeprefix(b"\xef\xbb\xbf").lstrip().startswith(b"<")


def _outside(root: Field, recipes: tuple[Field, ...]) -> Iterator[FieldNote]:
    """Fields that belong to no recipe."""
    inside = {leaf for recipe in recipes for leaf in recipe.leaves()}
    for leaf in root.leaves():
        if leaf not in inside:
            yield FieldNote(
                place=leaf.place,
                line=leaf.line,
                value=str(leaf.value)[:60] if leaf.value is not None else "",
                verdict=Verdict.IGNORED,
                why="belongs to no recipe",
            )


def _further(draft: Draft, error: FileError) -> Iterator[Mistake]:
    """What is wrong beside the draft's own mistakes: a value that was refused is missing only because of that."""
    told = {mistake.key for mistake in draft.mistakes}
    for mistake in error.mistakes:
        if mistake.key not in told and not (draft.mistakes and mistake.what.startswith("missing")):
            yield mistake


def _imported(draft: Draft, read: Callable[[Draft], None], outside: tuple[FieldNote, ...]) -> Imported:
    read(draft)
    document = SourceDocument(path=draft.path, data=draft.data, lines=KeyLines(), sources=draft.sources)
    try:
        recipe = recipe_of(document)
    except FileError as error:
        raise FileError((*draft.mistakes, *_further(draft, error))) from error
    if draft.mistakes:
        raise FileError(tuple(draft.mistakes))
    return Imported(recipe=recipe, text=tomlkit.dumps(draft.data), notes=(*outside, *draft.report()))
