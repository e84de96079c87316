"""`after BATCH`: the batch beside its plan, and what the last batches say of the kettle's figures."""

from __future__ import annotations

import argparse
import json
import os
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path

from rich.console import Console

from kettlebridge.app import CORE, records_in
from kettlebridge.brewing.beside_plan import Beside, beside, sheet_of_plan
from kettlebridge.brewing.bitter_as_brewed import hops_as_brewed
from kettlebridge.brewing.brewed import Brewed, brewed
from kettlebridge.brewing.hop_plan import HopLine
from kettlebridge.brewing.kettle_figures import Proposal, proposals
from kettlebridge.cli.exits import DONE
from kettlebridge.cli.state_folder import add_state, state_folder
from kettlebridge.cli.tables import show
from kettlebridge.cli.the_batch import recipe_of
from kettlebridge.documents.after_sections import after_sections
from kettlebridge.documents.trend_words import trend_words
from kettlebridge.files.kettle_edit import write_figures
from kettlebridge.files.kettle_file import load_kettle
from kettlebridge.model.errors import JournalError, UsageError
from kettlebridge.model.ids import BatchId
from kettlebridge.model.plan import Plan
from kettlebridge.ports import Records
from kettlebridge.runtime.carried_over import trends_in
from kettlebridge.runtime.traces import folded

USUAL_LAST = 5
MOST_LAST = 50
DIGITS = 2
"""Of a figure in a kettle file."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What `after` may be told."""
    parser.add_argument("batch", metavar="BATCH", help="as `batches` lists it")
    parser.add_argument("--recipe", type=Path, metavar="FILE", help="recipe file: gravities, efficiency, bitterness")
    parser.add_argument("--kettle", type=Path, metavar="FILE", help="kettle file to propose figures for")
    parser.add_argument(
        "--last",
        type=int,
        choices=range(1, MOST_LAST + 1),
        default=USUAL_LAST,
        metavar="N",
        help=f"batches of that kettle that count, this one included (default {USUAL_LAST})",
    )
    parser.add_argument("--write", action="store_true", help="write what is to be changed into the kettle file")
    parser.add_argument("--json", action="store_true", help="one JSON document instead of tables")
    add_state(parser)


def run(args: argparse.Namespace) -> int:
    """Shows it, and writes what is asked for. Raises JournalError, FileError, UsageError."""
    if args.write and args.kettle is None:
        raise UsageError("--write needs --kettle FILE, the file to write to.")
    records, batch = records_in(state_folder(args.state, os.environ)), BatchId(args.batch)
    header = records.header(batch)
    recipe = recipe_of(args.recipe, header)
    trace = folded(CORE, header, records)
    day = brewed(header.plan, trace)
    try:
        sheet = None if recipe is None else sheet_of_plan(recipe, header.plan)
    except ValueError as error:
        raise UsageError(f"{args.recipe} in {header.plan.kettle.name}: {error}") from error
    hops = () if sheet is None else hops_as_brewed(sheet, day, trace)
    rows = beside(header.plan, day, sheet, hops)
    found = _proposals(args, records, batch, (header.plan, day))
    if args.json:
        print(json.dumps(_values(day, rows, hops, found), indent=2, default=lambda kind: kind.value))
    else:
        console = Console()
        console.print(f"{header.plan.profile.name}, {batch}", style="bold", markup=False, highlight=False)
        for section in after_sections(day, rows, hops, found):
            show(console, section)
        for trend in trends_in(records, header.kettle):
            console.print(trend_words(trend), markup=False, highlight=False)
    if args.write:
        _write(args.kettle, found, quiet=args.json)
    return DONE


def _proposals(
    args: argparse.Namespace, records: Records, batch: BatchId, this: tuple[Plan, Brewed]
) -> tuple[Proposal, ...]:
    """What the kettle file should say, by this batch and those of the same kettle before it."""
    if args.kettle is None:
        return ()
    kettle = load_kettle(args.kettle).kettle
    if kettle.name != this[0].kettle.name:
        raise UsageError(f"{args.kettle} describes {kettle.name}; {batch} was brewed in {this[0].kettle.name}.")
    days = [this, *_before(records, batch, args.last - 1)]
    now = {"boil_off_l_per_h": kettle.boil_off_l_per_h, "grain_absorption_l_per_kg": kettle.grain_absorption_l_per_kg}
    return proposals(days, now)


def _before(records: Records, batch: BatchId, count: int) -> list[tuple[Plan, Brewed]]:
    """The batches of the same kettle before that one, newest first; a record with a gap says nothing."""
    names = [each.batch for each in records.batches() if each.kettle == records.header(batch).kettle]
    days: list[tuple[Plan, Brewed]] = []
    for name in names[names.index(batch) + 1 :]:
        if len(days) >= count:
            break
        try:
            header = records.header(name)
            days.append((header.plan, brewed(header.plan, folded(CORE, header, records))))
        except JournalError:
            continue
    return days


def _write(path: Path, found: Sequence[Proposal], *, quiet: bool) -> None:
    figures = {each.key: round(each.found, DIGITS) for each in found if each.worth_taking}
    if figures:
        write_figures(path, figures)
    if not quiet:
        told = ", ".join(f"{key} = {value:g}" for key, value in figures.items())
        print(f"{path}: {told}" if figures else f"{path}: nothing to change")


def _values(
    day: Brewed, rows: Sequence[Beside], hops: Sequence[HopLine], found: Sequence[Proposal]
) -> dict[str, object]:
    return {
        "figures": {row.key: {"planned": row.planned, "came": row.came} for row in rows},
        "steps": [asdict(step) for step in day.steps],
        "additions": [asdict(each) for each in day.additions],
        "hops": [asdict(line) for line in hops],
        "kettle_file": [{**asdict(each), "worth_taking": each.worth_taking} for each in found],
    }
