"""Every fault that the simulator knows, and what injects it; one of them by what a person typed."""

from __future__ import annotations

from dataclasses import dataclass

from kettlebridge.model.errors import UsageError
from kettlesim.faults.rig import DayRig
from kettlesim.faults.table import ELSEWHERE, IN_A_DAY, OF_THE_CABLE, Fault, in_a_day

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


def wanted_fault(text: str) -> tuple[Fault[DayRig], float | None]:
    """NAME or NAME@SECONDS into the day. Raises UsageError for one that a day without a wire cannot have."""
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
