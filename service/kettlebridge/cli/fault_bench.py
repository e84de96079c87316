"""`bench ... --fault NAME[@S]`: a day with a fault in it, and what became of that."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass

from rich.console import Console
from rich.table import Table

from kettlebridge.cli.day_faults import Trip, begins, fits, lived_through
from kettlebridge.cli.exits import DONE, FAILED, UsageError
from kettlebridge.cli.virtual_day import VirtualDay
from kettlebridge.model.plan import Plan
from kettlesim.faults.rig import DayRig
from kettlesim.faults.table import ELSEWHERE, IN_A_DAY, OF_THE_CABLE, Fault, in_a_day

LIST = "list"


ON_A_CABLE = "tests/simulator_wire/test_wire_rig.py"
"""What injects the faults of a cable; a practice day draws them too."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """A line of the list. `test` None: `--fault` injects it."""

    fault: str
    promise: int
    what: str
    test: str | None


def listed() -> tuple[Listed, ...]:
    """Every fault there is, and for one that a day without a wire cannot have, the test that injects it."""
    in_days = [Listed(fault=one.name, promise=one.promise, what=one.what, test=None) for one in IN_A_DAY]
    wired = [Listed(fault=one.name, promise=one.promise, what=one.what, test=ON_A_CABLE) for one in OF_THE_CABLE]
    others = [Listed(fault=one.name, promise=one.promise, what=one.what, test=one.test) for one in ELSEWHERE]
    return (*in_days, *wired, *others)


def show_list(*, as_json: bool) -> int:
    """The list."""
    if as_json:
        Console(soft_wrap=True).print_json(json.dumps([asdict(row) for row in listed()]))
        return DONE
    table = Table()
    for heading in ("fault", "promise", "what happens", "injected by"):
        table.add_column(heading)
    for row in listed():
        table.add_row(row.fault, str(row.promise), row.what, row.test or f"--fault {row.fault}")
    Console().print(table)
    return DONE


def run(plan: Plan, wanted: str, *, seed: int, as_json: bool) -> int:
    """0 when the fault was found, 1 when nothing found it or it never began. Raises UsageError."""
    fault, at_s = _wanted(wanted)
    if not fits(fault.needs, plan.kettle):
        raise UsageError(f"{fault.name} needs {' and '.join(fault.needs)}: {plan.kettle.name} has not all of it.")
    day = VirtualDay(plan, seed=seed)
    while not day.over and not (begins(day, fault) if at_s is None else day.now_s >= at_s):
        day.second()
    began_s = day.now_s
    trip = None if day.over else lived_through(day, fault)
    figures = {
        "kettle": plan.kettle.name,
        "profile": plan.profile.name,
        "fault": fault.name,
        "began_s": None if trip is None else began_s,
        "trip": None if trip is None else asdict(trip),
    }
    if as_json:
        Console(soft_wrap=True).print_json(json.dumps(figures))
    else:
        Console().print(_sentence(fault, trip, began_s))
    return DONE if trip is not None and trip.detected_after_s is not None else FAILED


def _wanted(text: str) -> tuple[Fault[DayRig], float | None]:
    name, at, seconds = text.partition("@")
    fault = in_a_day(name)
    if fault is None:
        other = next((row for row in listed() if row.fault == name), None)
        if other is not None:
            raise UsageError(f"{name} is injected by {other.test}, not by a day without a wire.")
        raise UsageError(f"there is no fault {name}: --fault list shows all.")
    if not at:
        return fault, None
    try:
        return fault, float(seconds)
    except ValueError:
        raise UsageError(f"{seconds} is no number of seconds.") from None


def _sentence(fault: Fault[DayRig], trip: Trip | None, began_s: float) -> str:
    if trip is None:
        return f"On the simulator: the day was over before {fault.name} could begin."
    found = (
        "nothing found it"
        if trip.detected_after_s is None
        else f"found by {trip.rule} after {trip.detected_after_s:.0f} s"
    )
    return (
        f"On the simulator: {fault.what}, {began_s:.0f} s into the day; {found}. "
        f"The liquid reached {trip.peak_c:.1f} °C; the batch ended {trip.end_state}."
    )
