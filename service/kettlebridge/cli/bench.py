"""`bench PROFILE --kettle K`: a profile on a simulated kettle with a simulated brewer, as fast as it goes."""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import asdict
from pathlib import Path

from rich.console import Console
from rich.progress import Progress, TextColumn, TimeElapsedColumn
from rich.table import Table

from kettlebridge.cli import family_bench, fault_bench
from kettlebridge.cli.exits import DONE, FAILED, USAGE
from kettlebridge.core.validation import misfits
from kettlebridge.documents.misfits import misfit
from kettlebridge.documents.states import STATE_WORDS
from kettlebridge.documents.troubles import why_paused
from kettlebridge.files.kettle_file import load_kettle
from kettlebridge.files.profile_file import load_profile
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.errors import FileError, UsageError
from kettlebridge.model.plan import Plan
from kettlebridge.model.units import J_PER_KWH, S_PER_MIN
from kettlebridge.runtime.clock import RealClock
from kettlebridge.runtime.replay import event_hash
from kettlebridge.simulated.day_report import DayReport, StepFigures
from kettlebridge.simulated.virtual_day import LONGEST_DAY_S, VirtualDay

REFERENCE_DAY_S = 6.5 * 3600.0
SHOW_EVERY_TICKS = 500


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What `bench` may be told."""
    parser.add_argument("profile", type=Path, nargs="?", help="profile file (not with --family)")
    parser.add_argument("--kettle", type=Path, metavar="FILE", help="kettle file (not with --family)")
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="of noise and habits (default 1)")
    parser.add_argument("--json", action="store_true", help="one JSON document instead of tables")
    parser.add_argument(
        "--fault",
        metavar="NAME[@S]",
        help='puts a fault into the day, at its own time or that many seconds into it; "list": which there are',
    )
    family_bench.add_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """Runs the family, or the day: 0 when it completes, 1 when it ends otherwise, 2 for files that do not do."""
    if args.family:
        return family_bench.run(args)
    if args.picture is not None:
        raise UsageError("--picture shows what --family N found; of one day there is none.")
    if args.fault == fault_bench.LIST:
        return fault_bench.show_list(as_json=args.json)
    if args.profile is not None and args.kettle is None:
        load_profile(args.profile)  # a file that is not there is the nearer mistake
    if args.profile is None or args.kettle is None:
        raise UsageError("bench takes a PROFILE and a --kettle FILE, or --family N.")
    try:
        plan = Plan(kettle=load_kettle(args.kettle).kettle, profile=load_profile(args.profile))
    except FileError as error:
        print(error, file=sys.stderr)
        return USAGE
    reasons = misfits(plan.kettle, plan.profile)
    if reasons:
        lines = "\n".join(f"  {misfit(reason.code, reason.values)}" for reason in reasons)
        print(f"{args.profile} does not fit {args.kettle}:\n{lines}", file=sys.stderr)
        return USAGE
    if args.fault is not None:
        return fault_bench.run(plan, args.fault, seed=args.seed, as_json=args.json)
    clock = RealClock()
    begun_s = clock.now_s()
    day, report = _lived(plan, args.seed, quiet=args.json)
    figures = _figures(day, report, clock.now_s() - begun_s)
    if args.json:
        print(json.dumps(figures, indent=2))
    else:
        _show(day, report, figures)
    return DONE if day.state.batch is BatchState.COMPLETE else FAILED


def _lived(plan: Plan, seed: int, *, quiet: bool) -> tuple[VirtualDay, DayReport]:
    """The whole day, with a bar that shows the step in hand while it lasts."""
    day = VirtualDay(plan, seed=seed)
    report = DayReport(plan=plan)
    columns = (*Progress.get_default_columns()[:2], TextColumn("{task.fields[hours]:.1f} h"), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), disable=quiet, transient=True) as progress:
        task = progress.add_task("", total=len(plan.profile.steps), hours=0.0)
        for second in day.seconds():
            report.watch(second)
            if second.state.n % SHOW_EVERY_TICKS == 0:
                index = min(second.state.stage.step_index, len(plan.profile.steps) - 1)
                name = plan.profile.steps[index].name
                progress.update(task, completed=index, description=name, hours=second.state.now_s / 3600.0)
    return day, report


def _figures(day: VirtualDay, report: DayReport, elapsed_s: float) -> dict[str, object]:
    state = day.state
    return {
        "kettle": day.plan.kettle.name,
        "profile": day.plan.profile.name,
        "state": state.batch.value,
        "hold_cause": state.hold_cause,
        "steps": [asdict(step) for step in report.steps],
        "additions": [asdict(addition) for addition in report.additions],
        "energy_kwh": round(state.ledger.energy_j / J_PER_KWH, 3),
        "day_s": state.now_s,
        "brew_days_per_s": round(state.now_s / REFERENCE_DAY_S / elapsed_s, 3),
        "event_hash": event_hash(report.events),
    }


def _show(day: VirtualDay, report: DayReport, figures: dict[str, object]) -> None:
    console = Console()
    console.print(f"{day.plan.profile.name} in {day.plan.kettle.name}, on the simulator")
    table = Table()
    table.add_column("step")
    for heading in ("target °C", "reached after min", "over °C", "lasted min", "kWh"):
        table.add_column(heading, justify="right")
    for step in report.steps:
        table.add_row(*_row(step))
    console.print(table)
    console.print("reached, over: of the grain bed, as it is reckoned, where that is held; else of the control probe")
    if report.additions:
        console.print("additions, in minutes before the end of their step")
        made = Table()
        made.add_column("addition")
        made.add_column("planned", justify="right")
        made.add_column("made", justify="right")
        for addition in report.additions:
            made.add_row(
                addition.addition, f"{addition.planned_before_end_min:g}", f"{addition.made_before_end_min:.1f}"
            )
        console.print(made)
    hours = day.state.now_s / 3600.0
    cut = " (given up after 24 h)" if day.state.now_s >= LONGEST_DAY_S else ""
    ended = f"{STATE_WORDS[day.state.batch].name}{cut} after {hours:.1f} h, {figures['energy_kwh']} kWh."
    console.print(" ".join(part for part in (ended, why_paused(day.state.hold_cause)) if part), highlight=False)


def _row(step: StepFigures) -> tuple[str, ...]:
    def number(value: float | None, digits: int) -> str:
        return "" if value is None else f"{value:.{digits}f}"

    reached_min = None if step.reached_after_s is None else step.reached_after_s / S_PER_MIN
    return (
        step.step,
        number(step.target_c, 1),
        number(reached_min, 1),
        number(step.overshoot_c, 2),
        number(step.duration_s / S_PER_MIN, 1),
        number(step.energy_kwh, 3),
    )
