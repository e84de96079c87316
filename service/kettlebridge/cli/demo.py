"""`demo`: a whole brew day on the simulator, over a pseudo-terminal, with everything but the kettle real."""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import webbrowser
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import partial
from pathlib import Path

from rich.console import Console

from kettlebridge.app import CORE, Service, records_in
from kettlebridge.cli.broker_option import broker_at
from kettlebridge.cli.event_lines import EventLines
from kettlebridge.cli.exits import DONE, FAILED
from kettlebridge.cli.keyboard_view import KeyboardView
from kettlebridge.cli.loading import load_pair
from kettlebridge.cli.page_options import at_port
from kettlebridge.cli.practice_told import show, told
from kettlebridge.cli.ready_words import ready_words
from kettlebridge.cli.speeds import add_speed, limit
from kettlebridge.cli.state_folder import STATE_HELP
from kettlebridge.cli.tell_lines import tell_line
from kettlebridge.files.examples import example_kettles, example_profiles
from kettlebridge.files.kettle_file import KettleFile
from kettlebridge.files.local_time import ZoneTime, system_time
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.model.units import S_PER_DAY
from kettlebridge.runtime.clock import RealClock, run_paced
from kettlebridge.runtime.traces import folded
from kettlebridge.simulated.brewer import USUAL_WAYS
from kettlebridge.simulated.day_summary import replayed_day, summary
from kettlebridge.simulated.demo_day import Demo, Outcome, live
from kettlebridge.simulated.mishaps import PracticeDay
from kettlebridge.simulated.nodes import at_broker
from kettlebridge.simulated.practice_faults import Drawn, drawn
from kettlebridge.simulated.wires import REWIRED, has_rig
from kettlebridge.web.server import DEFAULT_PORT, Address

DEFAULT_SPEED = 30.0
DEMO_CODE = "1815"
"""Posted at a simulated kettle whose file has none: whoever reads the page stands there as much as anywhere."""

USUAL, HARD = "usual", "hard"
"""What `--mishaps` may be told."""

DAY_BEGINS = "06:00"
EXAMPLE_KETTLE = "ferryman"
EXAMPLE_PROFILE = "long_crossing_porter"
TEMPORARY = "temp"
SCREENS = ("DISPLAY", "WAYLAND_DISPLAY")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What `demo` may be told."""
    parser.add_argument(
        "--kettle", type=Path, metavar="FILE", help=f"kettle file (default: the example {EXAMPLE_KETTLE})"
    )
    parser.add_argument(
        "--profile", type=Path, metavar="FILE", help=f"profile (default: the example {EXAMPLE_PROFILE})"
    )
    parser.add_argument(
        "--bridge",
        choices=tuple(REWIRED),
        help="put the kettle on a board of this kind, whatever its file says (default: the file's own)",
    )
    parser.add_argument("--broker", metavar="HOST:PORT", help="of the MQTT broker that --bridge mqtt goes through")
    parser.add_argument("--hands-off", action="store_true", help="a simulated brewer does what hands must do")
    parser.add_argument("--until-complete", action="store_true", help="end with the day: 0 when it completes, else 1")
    parser.add_argument(
        "--mishaps",
        nargs="?",
        const=USUAL,
        choices=(USUAL, HARD),
        help="a practice day: mishaps of brewer and kettle by chance, and at the end how each was handled; "
        f"{HARD}: also what takes a spare part (default {USUAL})",
    )
    add_speed(parser, default=DEFAULT_SPEED, help_words=f"how many times faster than life (default {DEFAULT_SPEED:g})")
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="of noise and habits (default 1)")
    parser.add_argument(
        "--state", type=Path, metavar="DIR", help=f'{STATE_HELP}; "{TEMPORARY}": gone afterwards (default)'
    )
    parser.add_argument(
        "--http",
        type=int,
        metavar="PORT",
        help=f"port of the page (default {DEFAULT_PORT}, another where that is taken); 0: no page",
    )
    parser.add_argument(
        "--open",
        action=argparse.BooleanOptionalAction,
        help="open the page in a browser (default: where there is a screen, somebody at the keyboard and hands to use)",
    )


def run(args: argparse.Namespace) -> int:
    """Lives the day and sums it up."""
    kettle = args.kettle or _named(example_kettles(), EXAMPLE_KETTLE)
    profile_path = args.profile or _named(example_profiles(), EXAMPLE_PROFILE)
    file, profile = load_pair(kettle, profile_path)
    broker = None if args.broker is None else broker_at(args.broker)
    if args.bridge is not None:
        file = REWIRED[args.bridge](file, broker)
    elif broker is not None:
        file = at_broker(file, broker)
    file = replace(file, code=file.code or DEMO_CODE)
    time = system_time()
    start_utc_s = time.next_at(DAY_BEGINS, RealClock().at_utc_s() - S_PER_DAY).at_utc_s
    practice = PracticeDay(seed=args.seed, hands_off=args.hands_off) if args.mishaps else None
    faults = _faults(args, file)
    with _folder(args.state) as folder:
        records = records_in(folder)
        view = KeyboardView(time, hands_off=args.hands_off) if _somebody_there() else None
        say = partial(_print, time) if view is None else view.say
        lines = EventLines(records, say)
        demo = Demo(
            file=file,
            profile=profile,
            seed=args.seed,
            hands_off=args.hands_off,
            until_complete=args.until_complete,
            folder=folder,
            time=time,
            ways=practice or USUAL_WAYS,
            faults=faults,
            tell=say,
            listeners=(lines,),
            beside=None if view is None else partial(view.run, lines.plan_of),
            page=_page(args.http),
            note=f"A simulated kettle. The code posted at it is {file.code}.",
            greet=partial(_greet, opens=_opens(args, watched=view is not None)),
        )
        if profile.ready_at is not None:
            print(f'"{profile.name}": {ready_words(profile.ready_at, time, start_utc_s)}.')
        if view is None and not args.hands_off:
            answer = tell_line(folder, file.kettle.name, "confirm", f"--code {file.code}")
            print(f"Nobody is at the keyboard. Answer with: {answer}", flush=True)
        outcome = run_paced(partial(live, demo), speed=limit(args.speed), start_utc_s=start_utc_s)
        _sum_up(folder, outcome, kept=args.state is not None and folder == args.state)
        if practice is not None:
            trace = folded(CORE, records.header(outcome.batch), records)
            print()
            show(Console(), told(practice.befell, outcome.happened, trace), trace, time)
    return DONE if outcome.state is BatchState.COMPLETE or not args.until_complete else FAILED


def _faults(args: argparse.Namespace, file: KettleFile) -> tuple[Drawn, ...]:
    """Those that the day is to have."""
    if not args.mishaps:
        return ()
    if not has_rig(file):
        print("Faults are drawn for one board on a serial line (--bridge serial): today only the brewer's own mishaps.")
        return ()
    return tuple(drawn(file.kettle, seed=args.seed, hard=args.mishaps == HARD))


def _page(port: int | None) -> Address | None:
    """Where the page is. Raises UsageError."""
    if port is None:
        return Address(port=DEFAULT_PORT, or_any=True)
    return at_port(port, Address())


def _opens(args: argparse.Namespace, *, watched: bool) -> bool:
    """Whether a browser is opened: never for a day that plays alone."""
    if args.hands_off:
        return False
    screen = sys.platform == "darwin" or any(os.environ.get(name) for name in SCREENS)
    return (watched and screen) if args.open is None else bool(args.open)


def _greet(service: Service, *, opens: bool) -> None:
    if service.page_url is not None:
        print(f"The page: {service.page_url}", flush=True)
        if opens:
            webbrowser.open(service.page_url)


def _sum_up(folder: Path, outcome: Outcome, *, kept: bool) -> None:
    print()
    for line in summary(replayed_day(records_in(folder), outcome.batch), outcome.wall_s):
        print(line)
    print(f"Record: batch {outcome.batch} in {folder}" if kept else "Record: was temporary; --state DIR keeps it")


def _print(time: ZoneTime, snapshot: Snapshot, words: str) -> None:
    print(f"{time.hh_mm(snapshot.at_utc_s)}  {words}", flush=True)


def _named(examples: tuple[Path, ...], stem: str) -> Path:
    return next(path for path in examples if path.stem == stem)


def _somebody_there() -> bool:
    return sys.stdin.isatty() and sys.stdout.isatty()


@contextmanager
def _folder(given: Path | None) -> Iterator[Path]:
    """The folder that was given, else one that is gone afterwards."""
    if given is not None and str(given) != TEMPORARY:
        yield given
        return
    with tempfile.TemporaryDirectory(prefix="kettlebridge-") as folder:
        yield Path(folder)
