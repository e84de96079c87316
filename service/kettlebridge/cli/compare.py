"""`compare A B ...`: batches side by side, as tables, JSON, or one HTML file with a picture of all their courses."""

from __future__ import annotations

import argparse
import json
from dataclasses import asdict, dataclass
from pathlib import Path

from rich.console import Console

from kettlebridge.app import CORE
from kettlebridge.brewing.beside_plan import Beside, beside, sheet_of_plan
from kettlebridge.brewing.bitter_as_brewed import hops_as_brewed
from kettlebridge.brewing.brewed import Brewed, brewed
from kettlebridge.brewing.side_by_side import addition_rows, figure_rows, step_rows
from kettlebridge.cli.exits import DONE
from kettlebridge.cli.state_folder import add_state
from kettlebridge.cli.tables import show
from kettlebridge.cli.the_batch import recipe_of, record_file, records_of
from kettlebridge.cli.written import Written, add_replace
from kettlebridge.documents.compare import MOST, Compared, compare_page, compare_sections
from kettlebridge.model.errors import UsageError
from kettlebridge.model.ids import BatchId
from kettlebridge.model.trace import Trace
from kettlebridge.model.units import S_PER_MIN
from kettlebridge.ports import BatchHeader, Records
from kettlebridge.runtime.traces import folded


@dataclass(frozen=True, slots=True, kw_only=True)
class _Batch:
    header: BatchHeader
    trace: Trace
    day: Brewed
    came: tuple[Beside, ...]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What `compare` may be told."""
    parser.add_argument("batch", nargs="+", metavar="BATCH", help=f"two to {MOST}, as `batches` lists them")
    parser.add_argument("--recipe", type=Path, metavar="FILE", help="recipe file of all: efficiency, bitterness")
    parser.add_argument("--html", type=Path, metavar="FILE", help="write one HTML file")
    add_replace(parser)
    parser.add_argument("--json", action="store_true", help="one JSON document instead of tables")
    add_state(parser)


def run(args: argparse.Namespace) -> int:
    """Shows them. Raises JournalError, FileError, UsageError."""
    names = list(dict.fromkeys(args.batch))
    if not 2 <= len(names) <= MOST:
        raise UsageError(f"{len(names)} batch(es): two to {MOST} different ones can be compared.")
    written = Written([args.html], reads=[args.recipe, record_file(args)], replace=args.replace, aside=args.json)
    compared = _compared([_batch(records_of(args), BatchId(name), args.recipe) for name in names])
    if args.json:
        print(json.dumps(_values(compared), indent=2, default=lambda kind: kind.value))
    else:
        console = Console()
        for section in compare_sections(compared):
            show(console, section)
    if args.html is not None:
        written.write(args.html, compare_page(compared))
    return DONE


def _batch(records: Records, batch: BatchId, recipe_path: Path | None) -> _Batch:
    header = records.header(batch)
    recipe = recipe_of(recipe_path, header)
    trace = folded(CORE, header, records)
    day = brewed(header.plan, trace)
    try:
        sheet = None if recipe is None else sheet_of_plan(recipe, header.plan)
    except ValueError as error:
        raise UsageError(f"{recipe.name if recipe else ''} in {header.plan.kettle.name}: {error}") from error
    hops = () if sheet is None else hops_as_brewed(sheet, day, trace)
    came = (*beside(header.plan, day, sheet, hops), *_day(trace))
    return _Batch(header=header, trace=trace, day=day, came=came)


def _day(trace: Trace) -> tuple[Beside, ...]:
    last = trace.last
    return (
        Beside(key="day_min", planned=None, came=None if last is None else last.now_s / S_PER_MIN),
        Beside(key="energy_kwh", planned=None, came=None if last is None else last.energy_kwh),
    )


def _compared(batches: list[_Batch]) -> Compared:
    traces = tuple(each.trace for each in batches)
    return Compared(
        names=tuple(each.header.batch for each in batches),
        profiles=tuple(each.header.plan.profile.name for each in batches),
        traces=traces,
        steps=step_rows(traces),
        additions=addition_rows([each.day for each in batches]),
        figures=figure_rows([each.came for each in batches]),
    )


def _values(compared: Compared) -> dict[str, object]:
    return {
        "batches": [
            {"batch": name, "profile": profile} for name, profile in zip(compared.names, compared.profiles, strict=True)
        ],
        "figures": {row.key: list(row.came) for row in compared.figures},
        "steps": [asdict(row) for row in compared.steps],
        "additions": [asdict(row) for row in compared.additions],
    }
