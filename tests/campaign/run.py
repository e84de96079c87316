"""The fault campaign: every promise injected through the path that it belongs to; docs/promises.md is what came of it.

`make campaign` is the short form; `ARGS=--long` lives a thousand fault-free days and a larger family.
"""

from __future__ import annotations

import argparse
import copy
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from time import monotonic
from xml.etree import ElementTree as ET  # our own pytest wrote it

from kettlebridge.simulated.day_faults import Trip, begins, fits, lived_through
from kettlebridge.simulated.virtual_day import VirtualDay
from kettlesim.faults.rig import DayRig
from kettlesim.faults.table import IN_A_DAY, Fault
from kettlesim.world import World
from tests.campaign.habits import Outcome, lived
from tests.campaign.kettles import Subject, drawn_subjects, examples
from tests.campaign.page import Findings, page
from tests.campaign.referred import test_of, words

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "promises.md"
SHORT_DAYS, LONG_DAYS = 63, 1000
SHORT_FAMILY, LONG_FAMILY = 7, 30
IN_DAYS = frozenset({"tests/campaign/run.py"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Injected:
    """One fault in one kettle."""

    fault: str
    subject: str
    trip: Trip


def injected(subject: Subject) -> tuple[Injected, ...]:
    """Every fault that this kettle can have, each in a copy of one fault-free day at its own moment."""
    plan = subject.plan
    day = VirtualDay(plan, seed=1, world=World(subject.body, seed=1, probe_offset_c=0.0))
    waiting = [fault for fault in IN_A_DAY if fits(fault.needs, plan.kettle)]
    found: list[Injected] = []
    while waiting and not day.over:
        day.second()
        for fault in _due(day, waiting):
            waiting.remove(fault)
            trip = lived_through(copy.deepcopy(day, {id(plan): plan}), fault)
            found.append(Injected(fault=fault.name, subject=subject.name, trip=trip))
    return tuple(found)


def _due(day: VirtualDay, waiting: list[Fault[DayRig]]) -> list[Fault[DayRig]]:
    return [fault for fault in waiting if begins(day, fault)]


def day_of(job: tuple[Subject, int]) -> Outcome:
    """One fault-free day."""
    return lived(*job)


def tests_passed(files: tuple[str, ...]) -> dict[str, bool]:
    """For each test file whether all of it passed, by one run of pytest."""
    with tempfile.TemporaryDirectory() as folder:
        report = Path(folder) / "report.xml"
        command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", f"--junitxml={report}", *files]
        subprocess.run(command, cwd=ROOT, check=False, stdout=subprocess.DEVNULL)
        cases = list(ET.parse(report).iter("testcase"))  # noqa: S314  # pytest wrote it
    passed = dict.fromkeys(files, False)
    for file in files:
        module = file.removesuffix(".py").replace("/", ".")
        own = [case for case in cases if (case.get("classname") or "").startswith(module)]
        bad = [case for case in own if case.find("failure") is not None or case.find("error") is not None]
        passed[file] = bool(own) and not bad
    return passed


def referred_files() -> tuple[str, ...]:
    """The tests that the page refers to and that are there."""
    files = {test_of(number) for number in words()} - IN_DAYS
    return tuple(sorted(file for file in files if file))


def main() -> int:
    """0 when every fault was found and no fault-free day tripped."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--long", action="store_true", help=f"{LONG_DAYS} days and {LONG_FAMILY} drawn kettles")
    parser.add_argument("--days", type=int, help="fault-free days")
    parser.add_argument("--workers", type=int, default=2, help="processes (default %(default)s)")
    args = parser.parse_args()
    begun_s = monotonic()
    drawn = drawn_subjects(LONG_FAMILY if args.long else SHORT_FAMILY)
    subjects = (*examples(), *drawn)
    count = args.days or (LONG_DAYS if args.long else SHORT_DAYS)
    with ProcessPoolExecutor(args.workers) as pool:
        faults = [row for rows in pool.map(injected, subjects) for row in rows]
        _say(f"{len(faults)} faults in {len(subjects)} kettles", begun_s)
        days = list(_told(pool.map(day_of, [(drawn[n % len(drawn)], n) for n in range(count)]), begun_s))
    tests = tests_passed(referred_files())
    _say(f"{len(tests)} test files", begun_s)
    found = Findings(
        trips=tuple((row.fault, row.subject, row.trip) for row in faults),
        days=tuple(days),
        tests=tests,
        subjects=tuple(subject.name for subject in subjects),
    )
    PAGE.write_text(page(found), encoding="utf-8")
    for line in found.troubles():
        _say(line, begun_s)
    return 1 if found.troubles() else 0


def _told(days: Iterator[Outcome], begun_s: float) -> Iterator[Outcome]:
    for number, day in enumerate(days, start=1):
        if number % 20 == 0:
            _say(f"{number} fault-free days", begun_s)
        yield day


def _say(line: str, begun_s: float) -> None:
    sys.stderr.write(f"{monotonic() - begun_s:6.0f} s  {line}\n")


if __name__ == "__main__":
    sys.exit(main())
