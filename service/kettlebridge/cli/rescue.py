"""`rescue TROUBLE RECIPE --kettle K`: what mends what went wrong, and what comes of it otherwise."""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable
from dataclasses import dataclass

from kettlebridge.brewing.brew_sheet import Sheet
from kettlebridge.brewing.gravity import hydrometer_corrected
from kettlebridge.brewing.rescue import Advice, Rescue
from kettlebridge.brewing.rescue_boil import boiled_over, late_hop, wort_before_the_boil
from kettlebridge.brewing.rescue_mash import missed_dough_in, stuck_mash
from kettlebridge.brewing.water import cold_litres
from kettlebridge.cli.exits import DONE
from kettlebridge.cli.numbers import number
from kettlebridge.cli.sheet_options import add_sheet, sheet_of
from kettlebridge.documents.rescue_words import rescue_lines, rescue_words
from kettlebridge.model.errors import UsageError

Given = argparse.Namespace

MOST_PERCENT = 100.0
"""Of what the malt can give."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """Something that goes wrong: what must be told of it, and what works the rescue out."""

    help: str
    add: Callable[[argparse.ArgumentParser], None]
    rescue: Callable[[Sheet, Given], Rescue]


def _dough_in_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--at-c", type=number(20, 95), required=True, metavar="C", help="of the stirred mash")
    parser.add_argument("--hot-c", type=number(60, 101), metavar="C", help="hot water at hand (default: boiling)")


def _dough_in(sheet: Sheet, args: Given) -> Rescue:
    return missed_dough_in(sheet, args.at_c, args.hot_c)


def _nothing_more(parser: argparse.ArgumentParser) -> None:
    """A stuck mash needs no figure."""


def _stuck(sheet: Sheet, args: Given) -> Rescue:
    return stuck_mash(sheet)


def _wort_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--volume", type=number(0.5, 300), required=True, metavar="L", help="as the scale shows it")
    parser.add_argument("--at-c", type=number(0, 101), default=20.0, metavar="C", help="of that wort (default 20)")
    parser.add_argument(
        "--gravity", type=number(1.0, 1.18), required=True, metavar="SG", help="as the hydrometer shows it"
    )
    parser.add_argument(
        "--sample-c", type=number(0, 60), default=20.0, metavar="C", help="of the hydrometer's sample (default 20)"
    )


def _wort(sheet: Sheet, args: Given) -> Rescue:
    if args.volume > sheet.kettle.capacity_l:
        raise UsageError(f"--volume {args.volume:g}: {sheet.kettle.name} holds {sheet.kettle.capacity_l:g} L.")
    found_sg = hydrometer_corrected(args.gravity, args.sample_c)
    rescue = wort_before_the_boil(sheet, cold_litres(args.volume, args.at_c), found_sg)
    percent = rescue.found.get("efficiency_percent")
    if percent > MOST_PERCENT:
        raise UsageError(f"That would be {percent:.0f} % efficiency, more than is in the malt. Measure both again.")
    return rescue


def _late_hop_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--hop", required=True, metavar="NAME", help="as the recipe calls it")
    parser.add_argument(
        "--left", type=number(0, 240), required=True, metavar="MIN", help="minutes to the end when it goes in"
    )


def _late_hop(sheet: Sheet, args: Given) -> Rescue:
    return late_hop(sheet, args.hop, args.left)


def _boil_over_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--lost", type=number(0.05, 100), required=True, metavar="L", help="that went over the rim")
    parser.add_argument("--left", type=number(0, 240), required=True, metavar="MIN", help="minutes to the end")


def _boil_over(sheet: Sheet, args: Given) -> Rescue:
    return boiled_over(sheet, args.lost, args.left)


TROUBLES: dict[str, Trouble] = {
    "dough-in": Trouble(help="the mash landed hot or cold", add=_dough_in_arguments, rescue=_dough_in),
    "stuck": Trouble(help="no wort runs through the grain", add=_nothing_more, rescue=_stuck),
    "wort": Trouble(help="gravity or volume before the boil is off", add=_wort_arguments, rescue=_wort),
    "late-hop": Trouble(help="a hop goes in late", add=_late_hop_arguments, rescue=_late_hop),
    "boil-over": Trouble(help="wort went over the rim", add=_boil_over_arguments, rescue=_boil_over),
}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What `rescue` may be told."""
    troubles = parser.add_subparsers(dest="trouble", required=True, metavar="TROUBLE")
    for name, trouble in TROUBLES.items():
        one = troubles.add_parser(name, help=trouble.help)
        add_sheet(one)
        trouble.add(one)
        one.add_argument("--json", action="store_true", help="one JSON document instead of sentences")


def run(args: argparse.Namespace) -> int:
    """Says it. Raises FileError for a bad file, UsageError where the figures make no sense with it."""
    try:
        found = TROUBLES[args.trouble].rescue(sheet_of(args), args)
    except ValueError as error:
        raise UsageError(str(error)) from error
    if args.json:
        print(json.dumps(_values(found), indent=2))
        return DONE
    for line in rescue_lines(found):
        print(line)
    return DONE


def _values(found: Rescue) -> dict[str, object]:
    return {
        "found": _advice(found.found),
        "mends": [_advice(mend) for mend in found.mends],
        "unmended": _advice(found.unmended),
    }


def _advice(advice: Advice) -> dict[str, object]:
    return {"code": advice.code, "values": dict(advice.values), "words": rescue_words(advice)}
