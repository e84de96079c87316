"""The recipe, the kettle and the day that a brew sheet is made of, as arguments."""

from __future__ import annotations

import argparse
from pathlib import Path

from kettlebridge.brewing.brew_sheet import Sheet, brew_sheet
from kettlebridge.brewing.day import Day
from kettlebridge.brewing.scaling import scaled
from kettlebridge.cli.noted import read_or_noted
from kettlebridge.cli.numbers import number
from kettlebridge.files.kettle_file import load_kettle
from kettlebridge.files.recipe_file import load_recipe
from kettlebridge.model.errors import FileError, Mistake, UsageError
from kettlebridge.model.plan import COLDEST_GRAIN_C, HOTTEST_GRAIN_C

USUAL = Day()


def add_sheet(parser: argparse.ArgumentParser) -> None:
    """RECIPE, --kettle, how much of it, and what the day is like."""
    parser.add_argument("recipe", type=Path, help="recipe file")
    parser.add_argument("--kettle", type=Path, required=True, metavar="FILE", help="kettle file")
    parser.add_argument("--litres", type=number(1, 200), metavar="L", help="into the fermenter (default: the recipe's)")
    parser.add_argument(
        "--efficiency", type=number(20, 100), metavar="PERCENT", help="of this kettle (default: the recipe's)"
    )
    parser.add_argument(
        "--tap", type=number(0, 35), default=USUAL.tap_c, metavar="C", help=f"tap water (default {USUAL.tap_c:g})"
    )
    parser.add_argument(
        "--room", type=number(-10, 45), default=USUAL.room_c, metavar="C", help=f"the room (default {USUAL.room_c:g})"
    )
    parser.add_argument(
        "--grain",
        type=number(COLDEST_GRAIN_C, HOTTEST_GRAIN_C),
        default=USUAL.grain_c,
        metavar="C",
        help=f"the grain (default {USUAL.grain_c:g})",
    )
    parser.add_argument(
        "--dough-in",
        type=number(0, 30),
        default=USUAL.dough_in_min,
        metavar="MIN",
        help=f"from heater off to grain stirred in (default {USUAL.dough_in_min:g})",
    )


def sheet_of(args: argparse.Namespace, ready_min: float | None = None, price_per_kwh: float | None = None) -> Sheet:
    """The sheet. Raises FileError with the mistakes of both files, UsageError where there is no such day."""
    mistakes: list[Mistake] = []
    recipe = read_or_noted(load_recipe, args.recipe, mistakes)
    file = read_or_noted(load_kettle, args.kettle, mistakes)
    if recipe is None or file is None:
        raise FileError(tuple(mistakes))
    efficiency = None if args.efficiency is None else args.efficiency / 100.0
    day = Day(
        grain_c=args.grain,
        room_c=args.room,
        tap_c=args.tap,
        dough_in_min=args.dough_in,
        ready_min=ready_min,
        price_per_kwh=price_per_kwh,
    )
    try:
        return brew_sheet(scaled(recipe, args.litres or recipe.batch_l, efficiency), file.kettle, day)
    except ValueError as error:
        raise UsageError(f"{args.recipe} in {args.kettle}: {error}") from error
