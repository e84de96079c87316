"""`bench ... --fault NAME[@S]`: a day with a fault in it, and what became of that."""

from __future__ import annotations

import json
from dataclasses import asdict

from rich.console import Console
from rich.table import Table

from kettlebridge.cli.exits import DONE, FAILED
from kettlebridge.documents.amounts import duration
from kettlebridge.documents.states import STATE_WORDS
from kettlebridge.documents.troubles import why_paused
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.errors import UsageError
from kettlebridge.model.plan import Plan
from kettlebridge.simulated.day_faults import Trip, begins, fits, lived_through
from kettlebridge.simulated.fault_list import Listed, listed, wanted_fault
from kettlebridge.simulated.virtual_day import VirtualDay

LIST = "list"


def show_list(*, as_json: bool) -> int:
    """The list."""
    if as_json:
        Console(soft_wrap=True).print_json(json.dumps([asdict(row) for row in listed()]))
        return DONE
    console, rows = Console(), listed()
    console.print(_table([row for row in rows if row.test is None], "--fault"))
    console.print("What a day without a wire cannot have, only the tests do:")
    console.print(_table([row for row in rows if row.test is not None], "fault"))
    return DONE


def _table(rows: list[Listed], heading: str) -> Table:
    """Names are there to be typed: they are never cut."""
    table = Table()
    table.add_column(heading, min_width=max(len(row.fault) for row in rows))
    for other in ("what happens", "promise"):
        table.add_column(other)
    for row in rows:
        table.add_row(row.fault, row.what, str(row.promise))
    return table


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
        "Nothing found it."
        if trip.detected_after_s is None
        else f"Found after {trip.detected_after_s:.0f} s ({trip.rule}): {why_paused(trip.rule)}"
    )
    return (
        f"On the simulator, {duration(began_s)} into the day: {what}. {found} "
        f"The liquid reached {trip.peak_c:.1f} °C. Now: {STATE_WORDS[BatchState(trip.end_state)].name}."
    )
