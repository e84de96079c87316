"""`plan RECIPE --kettle K`: the brew sheet of a recipe in a kettle, on paper, and the profile made of it."""

from __future__ import annotations

import argparse
import json
import re
from collections.abc import Callable
from math import nan
from pathlib import Path
from typing import TypeVar

from rich.console import Console
from rich.table import Table
from rich.text import Text

from kettlebridge.brewing.brew_sheet import Sheet, brew_sheet
from kettlebridge.brewing.cautions import cautions, fits
from kettlebridge.brewing.day import Day
from kettlebridge.brewing.day_profile import profile_of
from kettlebridge.brewing.fitting import volumes_that_fit
from kettlebridge.brewing.scaling import scaled
from kettlebridge.cli.exits import DONE, FAILED, UsageError
from kettlebridge.documents.caution_words import caution_words
from kettlebridge.documents.sheet import sheet_page
from kettlebridge.documents.sheet_json import sheet_values
from kettlebridge.documents.sheet_sections import sections
from kettlebridge.files.kettle_file import load_kettle
from kettlebridge.files.profile_text import profile_text
from kettlebridge.files.recipe_file import load_recipe
from kettlebridge.model.errors import FileError, Mistake

CLOCK = re.compile(r"([01][0-9]|2[0-3]):([0-5][0-9])")
USUAL = Day()

Loaded = TypeVar("Loaded")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What `plan` may be told."""
    parser.add_argument("recipe", type=Path, help="recipe file")
    parser.add_argument("--kettle", type=Path, required=True, metavar="FILE", help="kettle file")
    parser.add_argument(
        "--litres", type=_number(1, 200), metavar="L", help="into the fermenter (default: the recipe's)"
    )
    parser.add_argument(
        "--efficiency", type=_number(20, 100), metavar="PERCENT", help="of this kettle (default: the recipe's)"
    )
    parser.add_argument("--ready", type=_clock, metavar="HH:MM", help="when the strike water is to be hot")
    parser.add_argument(
        "--tap", type=_number(0, 35), default=USUAL.tap_c, metavar="C", help=f"tap water (default {USUAL.tap_c:g})"
    )
    parser.add_argument(
        "--room", type=_number(-10, 45), default=USUAL.room_c, metavar="C", help=f"the room (default {USUAL.room_c:g})"
    )
    parser.add_argument(
        "--grain",
        type=_number(-10, 45),
        default=USUAL.grain_c,
        metavar="C",
        help=f"the grain (default {USUAL.grain_c:g})",
    )
    parser.add_argument(
        "--dough-in",
        type=_number(0, 30),
        default=USUAL.dough_in_min,
        metavar="MIN",
        help=f"from heater off to grain stirred in (default {USUAL.dough_in_min:g})",
    )
    parser.add_argument("--price", type=_number(0, 1000), metavar="MONEY", help="of a kilowatt-hour")
    parser.add_argument("--html", type=Path, metavar="FILE", help="write the sheet for printing")
    parser.add_argument("--profile", type=Path, metavar="FILE", help="write the profile of the day")
    parser.add_argument("--json", action="store_true", help="one JSON document instead of tables")


def run(args: argparse.Namespace) -> int:
    """Shows the sheet and writes what is asked for. 1 when the day does not fit the kettle: then no profile is made.

    Raises FileError for a bad file, UsageError where there is no such day at all or a file cannot be written.
    """
    sheet = _sheet(args)
    if args.json:
        print(json.dumps(sheet_values(sheet), indent=2))
    else:
        _show(sheet)
    if args.html is not None:
        _write(args.html, sheet_page(sheet))
    if args.profile is not None and fits(sheet):
        _write(args.profile, profile_text(profile_of(sheet, args.ready)))
    return DONE if fits(sheet) else FAILED


def _sheet(args: argparse.Namespace) -> Sheet:
    mistakes: list[Mistake] = []
    recipe = _read(load_recipe, args.recipe, mistakes)
    file = _read(load_kettle, args.kettle, mistakes)
    if recipe is None or file is None:
        raise FileError(tuple(mistakes))
    efficiency = None if args.efficiency is None else args.efficiency / 100.0
    day = Day(
        grain_c=args.grain,
        room_c=args.room,
        tap_c=args.tap,
        dough_in_min=args.dough_in,
        ready_min=None if args.ready is None else _minutes(args.ready),
        price_per_kwh=args.price,
    )
    try:
        return brew_sheet(scaled(recipe, args.litres or recipe.batch_l, efficiency), file.kettle, day)
    except ValueError as error:
        raise UsageError(f"{args.recipe} in {args.kettle}: {error}") from error


def _show(sheet: Sheet) -> None:
    console = Console()
    console.print(f"{sheet.recipe.name} in {sheet.kettle.name}", style="bold", markup=False, highlight=False)
    for caution in cautions(sheet):
        style = "bold red" if caution.stops else "yellow"
        console.print(f"! {caution_words(caution)}", style=style, markup=False, highlight=False)
    if not fits(sheet):
        console.print(_what_would_fit(sheet), markup=False, highlight=False)
    for section in sections(sheet):
        table = Table(title=section.title, title_justify="left", show_header=any(section.head))
        for nth, heading in enumerate(section.head):
            table.add_column(heading, justify="right" if nth else "left")
        for row in section.rows:
            table.add_row(*(Text(cell) for cell in row))
        console.print(table)


def _what_would_fit(sheet: Sheet) -> str:
    found = volumes_that_fit(sheet.recipe, sheet.kettle, sheet.day)
    if found is None:
        return f"No volume of it fits {sheet.kettle.name}."
    return f"From {found[0]:.1f} to {found[1]:.1f} L of it fit {sheet.kettle.name}: --litres says how much."


def _write(path: Path, text: str) -> None:
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as error:
        raise UsageError(f"{path} cannot be written: {error.strerror}") from error


def _clock(text: str) -> str:
    if not CLOCK.fullmatch(text):
        raise argparse.ArgumentTypeError(f'"{text}" is no time of day: HH:MM, 00:00 to 23:59')
    return text


def _minutes(clock: str) -> float:
    hours, minutes = clock.split(":")
    return 60.0 * int(hours) + int(minutes)


def _number(low: float, high: float) -> Callable[[str], float]:
    """What argparse calls for a number within bounds."""

    def number(text: str) -> float:
        try:
            value = float(text)
        except ValueError:
            value = nan
        if not low <= value <= high:
            raise argparse.ArgumentTypeError(f"{text} is not a number from {low:g} to {high:g}")
        return value

    return number


def _read(load: Callable[[Path], Loaded], path: Path, mistakes: list[Mistake]) -> Loaded | None:
    try:
        return load(path)
    except FileError as error:
        mistakes += error.mistakes
        return None
