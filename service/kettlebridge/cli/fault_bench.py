"""`bench ... --fault NAME[@S]`: a day with a fault in it, and what became of that."""

from __future__ import annotations

import json
from dataclasses import asdict

from rich.console import Console
from rich.table import Table

from kettlebridge.cli.day_faults import Trip, begins, fits, lived_through
from kettlebridge.cli.exits import DONE, FAILED, UsageError
from kettlebridge.cli.virtual_day import VirtualDay
from kettlebridge.model.plan import Plan
from kettlesim.faults import FAULTS, Fault, named

LIST = "list"


def show_list(*, as_json: bool) -> int:
    """Every fault, and for one that a day cannot have, the test that injects it."""
    if as_json:
        rows = [
            {"fault": fault.name, "promise": fault.promise, "what": fault.what, "test": fault.test or None}
            for fault in FAULTS
        ]
        Console(soft_wrap=True).print_json(json.dumps(rows))
        return DONE
    table = Table()
    for heading in ("fault", "promise", "what happens", "injected by"):
        table.add_column(heading)
    for fault in FAULTS:
        table.add_row(fault.name, str(fault.promise), fault.what, fault.test or f"--fault {fault.name}")
    Console().print(table)
    return DONE


def run(plan: Plan, wanted: str, *, seed: int, as_json: bool) -> int:
    """0 when the fault was found, 1 when nothing found it or it never began. Raises UsageError."""
    fault, at_s = _wanted(wanted)
    if fault.act is None:
        raise UsageError(f"{fault.name} is injected by {fault.test}, not by a day without a wire.")
    if not fits(fault, plan.kettle):
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


def _wanted(text: str) -> tuple[Fault, float | None]:
    name, at, seconds = text.partition("@")
    fault = named(name)
    if fault is None:
        raise UsageError(f"there is no fault {name}: --fault list shows all.")
    if not at:
        return fault, None
    try:
        return fault, float(seconds)
    except ValueError:
        raise UsageError(f"{seconds} is no number of seconds.") from None


def _sentence(fault: Fault, trip: Trip | None, began_s: float) -> str:
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
