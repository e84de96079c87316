"""`bench ... --fault NAME[@S]`: a day with a fault in it, and what became of that."""

from __future__ import annotations

import json
from dataclasses import asdict

from rich.console import Console
from rich.table import Table

from kettlebridge.cli.exits import DONE, FAILED
from kettlebridge.model.errors import UsageError
from kettlebridge.model.plan import Plan
from kettlebridge.simulated.day_faults import Trip, begins, fits, lived_through
from kettlebridge.simulated.fault_list import listed, wanted_fault
from kettlebridge.simulated.virtual_day import VirtualDay

LIST = "list"


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
    fault, at_s = wanted_fault(wanted)
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
        Console().print(_sentence(fault.name, fault.what, trip, began_s))
    return DONE if trip is not None and trip.detected_after_s is not None else FAILED


def _sentence(name: str, what: str, trip: Trip | None, began_s: float) -> str:
    if trip is None:
        return f"On the simulator: the day was over before {name} could begin."
    found = (
        "nothing found it"
        if trip.detected_after_s is None
        else f"found by {trip.rule} after {trip.detected_after_s:.0f} s"
    )
    return (
        f"On the simulator: {what}, {began_s:.0f} s into the day; {found}. "
        f"The liquid reached {trip.peak_c:.1f} °C; the batch ended {trip.end_state}."
    )
