"""Sheets of the example recipes in the example kettles, and small recipes to break."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from kettlebridge.brewing.brew_sheet import Sheet, brew_sheet
from kettlebridge.brewing.cautions import fits
from kettlebridge.brewing.day import Day
from kettlebridge.files.examples import config_folder, example_kettles
from kettlebridge.files.kettle_file import load_kettle
from kettlebridge.files.recipe_file import load_recipe
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.recipe import Recipe


def example_recipes() -> tuple[Path, ...]:
    return tuple(sorted((config_folder() / "recipes").glob("*.toml")))


@cache
def kettle(name: str) -> Kettle:
    return load_kettle(config_folder() / "kettles" / f"{name}.toml").kettle


@cache
def recipe(name: str) -> Recipe:
    return load_recipe(config_folder() / "recipes" / f"{name}.toml")


def sheet(recipe_name: str, kettle_name: str) -> Sheet:
    return brew_sheet(recipe(recipe_name), kettle(kettle_name), Day())


def every_pair() -> list[tuple[str, str]]:
    return [(one.stem, other.stem) for one in example_recipes() for other in example_kettles()]


def pairs_that_fit() -> list[tuple[str, str]]:
    return [pair for pair in every_pair() if fits(sheet(*pair))]
