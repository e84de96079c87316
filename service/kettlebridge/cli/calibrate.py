"""`calibrate`: a day with water, and what it says of the kettle's own figures."""

from __future__ import annotations

import argparse
import asyncio
import json
import os
import sys
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path

from rich.console import Console

from kettlebridge.app import CORE, Assignment, Service, Setting, records_in, run_service
from kettlebridge.brewing.calibrating import Finding, control_probe, findings
from kettlebridge.brewing.calibration_day import CALIBRATION, Part, calibration_day, is_calibration, usual_litres
from kettlebridge.brewing.calibration_record import Told
from kettlebridge.brewing.day import ROOM_C
from kettlebridge.bridges import bridge_of
from kettlebridge.cli.event_lines import EventLines
from kettlebridge.cli.exits import DONE, FAILED
from kettlebridge.cli.loading import fit_mistakes
from kettlebridge.cli.page_options import add_page, page_address
from kettlebridge.cli.state_folder import add_state, state_folder
from kettlebridge.cli.tables import show
from kettlebridge.cli.tell_lines import tell_line
from kettlebridge.documents.calibration_words import calibration_section, doubts
from kettlebridge.files.altitude import saturation_c
from kettlebridge.files.kettle_edit import TwoPoints, write_figures
from kettlebridge.files.kettle_file import KettleFile, load_kettle
from kettlebridge.files.local_time import ZoneTime, system_time
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.errors import FileError, OperatorError, UsageError
from kettlebridge.model.ids import BatchId
from kettlebridge.model.plan import Profile
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.model.trace import Trace
from kettlebridge.runtime.clock import RealClock
from kettlebridge.runtime.first_of import first_of
from kettlebridge.runtime.stuck_guard import StuckGuard
from kettlebridge.runtime.traces import folded
from kettlebridge.simulated import calibration

HPA = (600.0, 1080.0)
PA_PER_HPA = 100.0
DIGITS = 2
"""Of a figure in a kettle file."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What `calibrate` may be told."""
    parser.add_argument("--kettle", type=Path, metavar="FILE", required=True, help="kettle file to compare with")
    parser.add_argument("--simulated", action="store_true", help="on the simulator, with simulated hands")
    parser.add_argument("--batch", metavar="BATCH", help="read a calibration run before, as `batches` lists it")
    parser.add_argument(
        "--leave-out",
        action="append",
        default=[],
        choices=[part.value for part in Part],
        metavar="PART",
        help=f"a part to skip: {', '.join(part.value for part in Part)}",
    )
    parser.add_argument("--fill", type=float, metavar="L", help="litres to pour in (default: 0.7 of the capacity)")
    parser.add_argument("--room", type=float, metavar="C", default=ROOM_C, help="of the room (default 20 °C)")
    parser.add_argument(
        "--pressure", type=float, metavar="HPA", help="of the air at the kettle, not reduced to sea level"
    )
    parser.add_argument("--after-boil", type=float, metavar="L", help="litres left by the boil, as cold ones")
    parser.add_argument("--left", type=float, metavar="L", help="litres left after draining")
    parser.add_argument("--write", action="store_true", help="write without asking")
    parser.add_argument("--json", action="store_true", help="one JSON document; writes only with --write")
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="of the simulator's noise (default 1)")
    add_state(parser)
    add_page(parser)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Lived:
    """What a day left behind, and what its hands measured."""

    trace: Trace
    after_boil_l: float | None = None
    left_l: float | None = None


def run(args: argparse.Namespace) -> int:
    """Runs the day, or reads one; shows what it found; writes what is asked for. Raises what those raise."""
    file = load_kettle(args.kettle)
    boil_c = _boil_c(args.pressure, file)
    folder = state_folder(args.state, os.environ)
    lived = _read(args, file, folder) if args.batch else _run(args, file, folder)
    told = Told(
        boil_c=boil_c,
        room_c=args.room,
        after_boil_l=_litres(args, "after_boil", lived.after_boil_l, "Litres after the boil, as cold ones"),
        left_l=_litres(args, "left", lived.left_l, "Litres left after draining"),
    )
    found = findings(file.kettle, lived.trace, told)
    if args.json:
        print(json.dumps(_values(found), indent=2))
    else:
        _show(found)
    changes = any(each.worth_taking for each in found)
    if changes and (args.write or (not args.json and _agreed(args.kettle))):
        _write(args.kettle, file, told, found)
    return DONE if found else FAILED


def _boil_c(pressure_hpa: float | None, file: KettleFile) -> float:
    """Where water boils here and now. Raises UsageError."""
    if pressure_hpa is None:
        return file.kettle.boil_c
    if not HPA[0] <= pressure_hpa <= HPA[1]:
        raise UsageError(f"--pressure {pressure_hpa:g}: air has {HPA[0]:g} to {HPA[1]:g} hPa")
    return saturation_c(PA_PER_HPA * pressure_hpa)


def _profile(args: argparse.Namespace, file: KettleFile) -> Profile:
    """The day. Raises FileError where it does not fit, UsageError where nothing is left of it."""
    parts = frozenset(Part) - {Part(name) for name in args.leave_out}
    if not parts:
        raise UsageError("--leave-out: nothing is left to be found")
    profile = calibration_day(usual_litres(file.kettle) if args.fill is None else args.fill, parts)
    mistakes = fit_mistakes(file, profile, CALIBRATION)
    if mistakes:
        raise FileError(mistakes)
    return profile


def _run(args: argparse.Namespace, file: KettleFile, folder: Path) -> _Lived:
    profile = _profile(args, file)
    if args.simulated:
        day = calibration.usual(file.kettle, profile, room_c=args.room, seed=args.seed)
        if day.state is not BatchState.COMPLETE:
            raise OperatorError(f"the simulated day ended {day.state.value}: {day.cause}")
        return _Lived(trace=day.trace, after_boil_l=day.after_boil_l, left_l=day.left_l)
    return _Lived(trace=_trace(folder, asyncio.run(_served(args, file, profile, folder))))


async def _served(args: argparse.Namespace, file: KettleFile, profile: Profile, folder: Path) -> BatchId:
    """The day on the real kettle, as `serve` would run it; one that was left unfinished goes on."""
    time = system_time()
    setting = Setting(
        clock=RealClock(),
        folder=folder,
        time=time,
        bridges=bridge_of,
        guard=StuckGuard(),
        listeners=(EventLines(records_in(folder), partial(_say, time)),),
        page=page_address(args),
    )
    return await run_service([Assignment(file=file, profile=profile)], setting, partial(_until_over, file, folder))


def _say(time: ZoneTime, snapshot: Snapshot, words: str) -> None:
    print(f"{time.hh_mm(snapshot.at_utc_s)}  {words}", flush=True)


async def _until_over(file: KettleFile, folder: Path, service: Service) -> BatchId:
    """Raises OperatorError where another batch is in the way, or where the day was left."""
    kettle = file.kettle.name
    unfinished = service.recovered.get(kettle)
    if unfinished is not None and not is_calibration(service.records.header(unfinished).plan.profile):
        raise OperatorError(f"{kettle} has the unfinished batch {unfinished}: end it first")
    begin = "carry-on" if unfinished else "start"
    where = "" if service.page_url is None else f", or on the page: {service.page_url}"
    lines = ", ".join(tell_line(folder, kettle, word) for word in (begin, "confirm", "skip"))
    print(f"Begin and answer with: {lines}{where}", flush=True)
    await first_of(service.keepers[kettle].ended(), service.stop.wait())
    last = service.snapshots.latest(kettle)
    if last is None or service.stop.is_set():
        raise OperatorError("left: the same command goes on with it")
    return last.batch


def _read(args: argparse.Namespace, file: KettleFile, folder: Path) -> _Lived:
    header = records_in(folder).header(BatchId(args.batch))
    if not is_calibration(header.plan.profile) or header.kettle != file.kettle.name:
        told = f'"{header.plan.profile.name}" on {header.kettle}'
        raise UsageError(f"{args.batch} is {told}: no calibration with water of {file.kettle.name}")
    return _Lived(trace=_trace(folder, header.batch))


def _trace(folder: Path, batch: BatchId) -> Trace:
    records = records_in(folder)
    return folded(CORE, records.header(batch), records)


def _litres(args: argparse.Namespace, name: str, measured: float | None, question: str) -> float | None:
    """As given, as measured, or as answered; an empty answer: not measured."""
    given: float | None = getattr(args, name)
    if given is not None or measured is not None or args.json or args.write or not sys.stdin.isatty():
        return measured if given is None else given
    answer = input(f"{question} (Enter: not measured): ").strip().replace(",", ".")
    try:
        return float(answer) if answer else None
    except ValueError:
        raise UsageError(f'"{answer}" is no number of litres') from None


def _show(found: Sequence[Finding]) -> None:
    console = Console(width=None if sys.stdout.isatty() else 110)
    if not found:
        console.print("Nothing was measured.")
        return
    show(console, calibration_section(found))
    for line in doubts(found):
        console.print(line, markup=False, highlight=False)


def _agreed(path: Path) -> bool:
    if not sys.stdin.isatty():
        print(f"{path}: left as it is; --write writes it")
        return False
    return input(f"Write that into {path}? [y/N] ").strip().lower() in {"y", "yes"}


def _write(path: Path, file: KettleFile, told: Told, found: Sequence[Finding]) -> None:
    figures, points = {}, None
    for each in found:
        if each.worth_taking and each.points_c is not None:
            true_c = (0.0, round(told.boil_c, DIGITS))
            points = TwoPoints(probe=control_probe(file.kettle).name, read_c=each.points_c, true_c=true_c)
        elif each.worth_taking and each.found is not None:
            figures[each.key] = round(each.found, 0 if each.part is Part.HEATER else DIGITS)
    write_figures(path, figures, points)
    print(f"{path}: written; kettlebridge check {path}", file=sys.stderr)


def _values(found: Sequence[Finding]) -> dict[str, object]:
    return {
        "findings": [{**asdict(each), "part": each.part.value, "worth_taking": each.worth_taking} for each in found]
    }
