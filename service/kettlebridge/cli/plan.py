"""`plan RECIPE --kettle K`: the brew sheet of a recipe in a kettle, on paper, and the profile made of it."""

from __future__ import annotations

import argparse
import json
import re
from pathlib import Path

from rich.console import Console

from kettlebridge.brewing.brew_sheet import Sheet
from kettlebridge.brewing.cautions import cautions, fits
from kettlebridge.brewing.day_profile import profile_of
from kettlebridge.brewing.fitting import volumes_that_fit
from kettlebridge.cli.exits import DONE, FAILED
from kettlebridge.cli.numbers import number
from kettlebridge.cli.sheet_options import add_sheet, sheet_of
from kettlebridge.cli.tables import show
from kettlebridge.cli.written import Written, add_replace
from kettlebridge.documents.caution_words import caution_words
from kettlebridge.documents.sheet import sheet_page
from kettlebridge.documents.sheet_json import sheet_values
from kettlebridge.documents.sheet_sections import sections
from kettlebridge.model.plan import Profile
from kettlebridge.model.time_of_day import HH_MM


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What `plan` may be told."""
    add_sheet(parser)
    parser.add_argument("--ready", type=_clock, metavar="HH:MM", help="when the strike water is to be hot")
    parser.add_argument("--price", type=number(0, 1000), metavar="MONEY", help="of a kilowatt-hour")
    parser.add_argument("--html", type=Path, metavar="FILE", help="write the sheet for printing")
    parser.add_argument("--profile", type=Path, metavar="FILE", help="write the profile of the day")
    add_replace(parser)
    parser.add_argument("--json", action="store_true", help="one JSON document instead of tables")


def run(args: argparse.Namespace) -> int:
    """Shows the sheet and writes what is asked for. 1 when the day does not fit the kettle: then no profile is made.

    Raises FileError for a bad file, UsageError where there is no such day at all or a file cannot be written.
    """
    written = Written(
        [args.html, args.profile], reads=[args.recipe, args.kettle], replace=args.replace, aside=args.json
    )
    sheet = sheet_of(args, None if args.ready is None else _minutes(args.ready), args.price)
    if args.json:
        print(json.dumps(sheet_values(sheet), indent=2))
    else:
        _show(sheet)
    if args.html is not None:
        written.write(args.html, sheet_page(sheet))
    if args.profile is not None and fits(sheet):
        written.write(args.profile, _text(profile_of(sheet, args.ready)))
    return DONE if fits(sheet) else FAILED


def _text(profile: Profile) -> str:
    """The file's text. Its writer is loaded only where one is written."""
    from kettlebridge.files.profile_text import profile_text  # noqa: PLC0415

    return profile_text(profile)


def _show(sheet: Sheet) -> None:
    console = Console()
    console.print(f"{sheet.recipe.name} in {sheet.kettle.name}", style="bold", markup=False, highlight=False)
    for caution in cautions(sheet):
        style = "bold red" if caution.stops else "yellow"
        console.print(f"! {caution_words(caution)}", style=style, markup=False, highlight=False)
    if not fits(sheet):
        console.print(_what_would_fit(sheet), markup=False, highlight=False)
    for section in sections(sheet):
        show(console, section)


def _what_would_fit(sheet: Sheet) -> str:
    found = volumes_that_fit(sheet.recipe, sheet.kettle, sheet.day)
    if found is None:
        return f"No volume of it fits {sheet.kettle.name}."
    return f"From {found[0]:.1f} to {found[1]:.1f} L of it fit {sheet.kettle.name}: --litres says how much."


def _clock(text: str) -> str:
    if not re.fullmatch(HH_MM, text):
        raise argparse.ArgumentTypeError(f'"{text}" is no time of day: HH:MM, 00:00 to 23:59')
    return text


def _minutes(clock: str) -> float:
    hours, minutes = clock.split(":")
    return 60.0 * int(hours) + int(minutes)
