"""`bench --family N`: many random kettles on the simulator, each regulator on every one, and how they compare."""

from __future__ import annotations

import argparse
import json
import math
import multiprocessing
import os
import sys
from collections.abc import Iterable, Iterator
from dataclasses import asdict
from pathlib import Path

from rich.console import Console
from rich.progress import track
from rich.table import Table

from kettlebridge.cli.exits import DONE, FAILED
from kettlebridge.cli.written import Written, add_replace
from kettlebridge.simulated.family.boil_metrics import BOIL_METRICS, SHARES, WAYS, boil_figures
from kettlebridge.simulated.family.course import driven, energy_bound_s
from kettlebridge.simulated.family.draw import drawn
from kettlebridge.simulated.family.metrics import METRICS
from kettlebridge.simulated.family.picture import picture
from kettlebridge.simulated.family.rank import Summary, summary
from kettlebridge.simulated.family.ready import COLUMNS, READY_METRICS, ready_figures
from kettlebridge.simulated.family.regulators import REGULATORS

Figures = dict[str, dict[str, float | None]]
"""Of one kettle: regulator, metric, figure; a metric that the kettle does not have is left out."""

Results = dict[str, dict[str, Summary]]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What `bench` may be told about a family."""
    group = parser.add_argument_group("many random kettles instead of one profile")
    group.add_argument("--family", type=_count, metavar="N", help="this many random kettles")
    group.add_argument("--compare", action="store_true", help="every regulator, not only the one of the kettle file")
    group.add_argument(
        "--regulator", choices=tuple(REGULATORS), action="append", metavar="NAME", help=", ".join(REGULATORS)
    )
    group.add_argument("--boil", action="store_true", help="the boil too (as --compare does)")
    group.add_argument("--ready", action="store_true", help="when strike water is foretold too (as --compare does)")
    group.add_argument("--picture", type=Path, metavar="FILE", help="also write the comparison as an SVG")
    add_replace(group)
    group.add_argument("--jobs", type=_count, metavar="N", help="processes (default: one for each core)")


def _count(text: str) -> int:
    value = int(text)
    if value < 1:
        raise argparse.ArgumentTypeError("must be at least 1")
    return value


def chosen(args: argparse.Namespace) -> tuple[str, ...]:
    """The regulators asked for, in the order of the table."""
    if args.regulator:
        return tuple(name for name in REGULATORS if name in args.regulator)
    return tuple(REGULATORS) if args.compare else (DEFAULT,)


DEFAULT = "model"


def boils_of(task: tuple[int, int]) -> Figures:
    """What every way to the boil made of one kettle. `task`: its number, the family's seed."""
    return boil_figures(drawn(*task))


def boils(count: int, seed: int, jobs: int) -> dict[str, dict[str, Summary | float | None]]:
    """Every way to the boil over the family: `way/lid`, metric; a mean for shares, else a summary."""
    tasks = [(number, seed) for number in range(count)]
    with multiprocessing.get_context("spawn").Pool(jobs) as pool:
        kettles = list(map(boils_of, tasks)) if jobs == 1 else pool.map(boils_of, tasks)
    told: dict[str, dict[str, Summary | float | None]] = {}
    for way in kettles[0]:
        told[way] = {}
        for metric in BOIL_METRICS:
            column = [kettle[way][metric.key] for kettle in kettles if metric.key in kettle[way]]
            told[way][metric.key] = _mean(column) if metric.key in SHARES else summary(column)
    return told


def readies_of(task: tuple[int, int]) -> Figures:
    """What was foretold of one kettle's strike water. `task`: its number, the family's seed."""
    return ready_figures(drawn(*task))


def readies(count: int, seed: int, jobs: int) -> Results:
    """How far off the forecast was over the family, by what was known when."""
    tasks = [(number, seed) for number in range(count)]
    with multiprocessing.get_context("spawn").Pool(jobs) as pool:
        kettles = list(map(readies_of, tasks)) if jobs == 1 else pool.map(readies_of, tasks)
    return {
        f"forecast_{name}": {
            metric.key: summary([kettle[name][metric.key] for kettle in kettles if metric.key in kettle[name]])
            for metric in READY_METRICS
        }
        for name in COLUMNS
    }


def _mean(figures: list[float | None]) -> float | None:
    known = [figure for figure in figures if figure is not None]
    return math.fsum(known) / len(known) if known else None


def figures_of(task: tuple[int, int, tuple[str, ...]]) -> Figures:
    """What every regulator made of one kettle. `task`: its number, the family's seed, the regulators."""
    number, seed, names = task
    member = drawn(number, seed)
    bound_s = energy_bound_s(member)
    if bound_s is None:
        return {name: {metric.key: None for metric in METRICS} for name in names}
    figures: Figures = {}
    for name in names:
        course = driven(member, bound_s, REGULATORS[name].made())
        figures[name] = {metric.key: metric.of(course) for metric in METRICS if metric.only(course)}
    return figures


def lived(count: int, seed: int, names: tuple[str, ...], jobs: int) -> Iterator[Figures]:
    """Every kettle's figures, in order, from `jobs` processes. The number of processes changes nothing."""
    tasks = [(number, seed, names) for number in range(count)]
    if jobs == 1:
        yield from map(figures_of, tasks)
        return
    with multiprocessing.get_context("spawn").Pool(jobs) as pool:
        yield from pool.imap(figures_of, tasks)


def summarised(family: Iterable[Figures], names: tuple[str, ...]) -> Results:
    """The family's figures as one summary for each regulator and metric."""
    kettles = list(family)
    return {
        name: {
            metric.key: summary([kettle[name][metric.key] for kettle in kettles if metric.key in kettle[name]])
            for metric in METRICS
        }
        for name in names
    }


def run(args: argparse.Namespace) -> int:
    """Runs the family. 0 when every regulator's every course could be judged, 1 when the family has no figures."""
    names = chosen(args)
    written = Written([args.picture], replace=args.replace, aside=args.json)
    jobs = min(args.jobs or os.cpu_count() or 1, args.family)
    family: Iterable[Figures] = lived(args.family, args.seed, names, jobs)
    if not args.json:
        family = track(family, "kettles", total=args.family, console=Console(stderr=True), transient=True)
    results = summarised(family, names)
    boiling = boils(args.family, args.seed, jobs) if args.compare or args.boil else {}
    foretold = readies(args.family, args.seed, jobs) if args.compare or args.ready else {}
    if args.picture:
        words = {metric.key: metric.words for metric in METRICS}
        called = {name: REGULATORS[name].words for name in results}
        written.write(args.picture, picture(results, words, called, heading(args.family, args.seed)))
    if args.json:
        told = document({**results, **foretold}, args.family, args.seed)
        print(json.dumps(told | boil_document(boiling), indent=2))
    else:
        show(results, args.family, args.seed)
        show_boils(boiling)
        show_readies(foretold)
    judged = any(one.median is not None for rows in results.values() for one in rows.values())
    return DONE if judged else FAILED


def document(results: Results, count: int, seed: int) -> dict[str, object]:
    """The whole result for a program: `results[regulator or forecast][metric] = {median, p95, failed}`."""
    return {
        "kettles": count,
        "seed": seed,
        "simulated": True,
        "regulators": {name: REGULATORS[name].words for name in results if name in REGULATORS},
        "metrics": {metric.key: metric.words for metric in METRICS} | {each.key: each.words for each in READY_METRICS},
        "results": {name: {key: asdict(one) for key, one in rows.items()} for name, rows in results.items()},
    }


def heading(count: int, seed: int) -> str:
    """What the figures are of."""
    return f"{count} random kettles, seed {seed}, on the simulator: median / 95th percentile"


def show(results: Results, count: int, seed: int) -> None:
    """The result for people: median / 95th percentile (failed)."""
    table = Table(title=f"{heading(count, seed)} (failed)")
    table.add_column("metric")
    for name in results:
        table.add_column(REGULATORS[name].words, justify="right")
    for metric in METRICS:
        table.add_row(metric.words, *(cell(rows[metric.key], metric.digits) for rows in results.values()))
    Console(file=sys.stdout, width=None if sys.stdout.isatty() else 170).print(table)


def boil_document(boiling: dict[str, dict[str, Summary | float | None]]) -> dict[str, object]:
    """The boils for a program: `boil[way/lid][metric]`, a mean for shares, else {median, p95, failed}."""
    if not boiling:
        return {}
    told = {
        way: {key: asdict(one) if isinstance(one, Summary) else one for key, one in rows.items()}
        for way, rows in boiling.items()
    }
    return {
        "boil": told,
        "boil_ways": {name: way.words for name, way in WAYS.items()},
        "boil_metrics": {metric.key: metric.words for metric in BOIL_METRICS},
    }


def show_boils(boiling: dict[str, dict[str, Summary | float | None]]) -> None:
    """The boils for people."""
    if not boiling:
        return
    table = Table(title="the boil: median / 95th percentile, or a share")
    table.add_column("metric")
    for way in boiling:
        name, lid = way.split("/")
        table.add_column(f"{WAYS[name].words}, {lid.replace('_', ' ')}", justify="right")
    for metric in BOIL_METRICS:
        cells = []
        for rows in boiling.values():
            one = rows[metric.key]
            if isinstance(one, Summary):
                cells.append(cell(one, metric.digits))
            else:
                cells.append("" if one is None else f"{one:.2f}")
        table.add_row(metric.words, *cells)
    Console(file=sys.stdout, width=None if sys.stdout.isatty() else 170).print(table)


def show_readies(foretold: Results) -> None:
    """The forecast for people."""
    if not foretold:
        return
    table = Table(title="strike water foretold: median / 95th percentile (failed)")
    table.add_column("metric")
    for column in COLUMNS.values():
        table.add_column(column.words, justify="right")
    for metric in READY_METRICS:
        table.add_row(metric.words, *(cell(rows[metric.key], 1) for rows in foretold.values()))
    Console(file=sys.stdout, width=None if sys.stdout.isatty() else 170).print(table)


def cell(one: Summary, digits: int) -> str:
    """One figure of the table."""
    failed = f" ({one.failed})" if one.failed else ""
    if one.median is None or one.p95 is None:
        return "never" if one.failed else ""
    return f"{one.median:.{digits}f} / {one.p95:.{digits}f}{failed}"
