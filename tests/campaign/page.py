"""docs/promises.md, from what a campaign found."""

from __future__ import annotations

import math
import statistics
from collections import Counter
from dataclasses import dataclass

from kettlebridge.core.interlocks import INTERLOCKS
from kettlebridge.simulated.day_faults import Trip
from kettlesim.faults.table import IN_A_DAY
from tests.campaign.counting import most_expected
from tests.campaign.habits import Outcome
from tests.campaign.referred import test_of, words

HEAD = """# Promises

What is found when it goes wrong, and how soon. Made by `make campaign`; every figure is from the simulator and says
nothing beyond it. What each promise means, and what is not promised: [safety](safety.md).

**Injected** counts the faults that were put into brew days of {kettles} kettles (the three examples, the others drawn
at random, with an owner who is wrong about watts, litres and flow). The **time** is from the onset of the fault until
a rule spoke that may end it: the median and the worst. A switch that sticks on the way up shows only once heat should
end, a suspend only when it is over, an absent brewer only when the wait is: their times hold that wait. **Excess** is
how much hotter the liquid grew, at the worst, than it was or was meant to be. **False trips** are those of the rules in
{days} fault-free days; every trip counts. A test in place of figures: the fault belongs to a path that a day without a
wire has not, or the rule is tried in its own test alone.

| promise | fault | injected | found | median / worst s | excess °C | false trips |
|---|---|---|---|---|---|---|
"""

TAIL = """
## What these figures can show

{days} fault-free days, {hours:.0f} h of brewing, with mains voltage 10 % high or low, litres 15 % more or fewer than
confirmed, lids forgotten, sparge water from 60 to 80 °C, cold top-ups, announced or not, and lowered targets:
false trips: **{false}**{which}. {bound}

They cannot show what the simulator does not have: a wet plug, a relay that chatters, a probe that reads low, a hose
that comes off. A fault that was found on every kettle here was found on {kettles} kettles.

## Not found
{missed}
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Findings:
    """`trips` are (fault, kettle, what became of it); `tests` says for each test file whether it passed."""

    trips: tuple[tuple[str, str, Trip], ...]
    days: tuple[Outcome, ...]
    tests: dict[str, bool]
    subjects: tuple[str, ...]

    def false_trips(self) -> Counter[str]:
        """By rule, what tripped in fault-free days."""
        return Counter(rule for day in self.days for rule in day.trips)

    def troubles(self) -> list[str]:
        """What must not be."""
        return [
            *(f"{fault} was not found: {kettle}" for fault, kettle, trip in self.trips if trip.rule is None),
            *(f"false trip: {rule}, {times} times" for rule, times in self.false_trips().items()),
            *(f"failed: {file}" for file, passed in self.tests.items() if not passed),
        ]


def page(found: Findings) -> str:
    """All of it."""
    faults = words()
    count, kettles = len(found.days), len(found.subjects)
    false = found.false_trips()
    most = 100.0 * most_expected(false.total()) / max(count, 1)
    bound = f"After {false.total()} in {count}, up to {most:.1f} in a hundred days are still possible (95 %)."
    missed = [
        f"- {fault}: {kettle}; the batch ended {trip.end_state}" for fault, kettle, trip in found.trips if not trip.rule
    ]
    tail = TAIL.format(
        days=count,
        hours=math.fsum(day.hours for day in found.days),
        false=false.total(),
        which=f" ({', '.join(f'{rule}: {times}' for rule, times in sorted(false.items()))})" if false else "",
        bound=bound,
        kettles=kettles,
        missed="\n".join(missed) or "Nothing.",
    )
    rows = "".join(_row(number, faults[number], found) for number in sorted(faults))
    return HEAD.format(kettles=kettles, days=count) + rows + tail


def _row(number: int, fault: str, found: Findings) -> str:
    own = {row.name for row in IN_A_DAY if row.promise == number}
    trips = [trip for name, _, trip in found.trips if name in own]
    rules = {row.code for row in INTERLOCKS if row.promise == number}
    false = sum(times for rule, times in found.false_trips().items() if rule in rules)
    shown = str(false) if rules else ""
    if trips:
        times_s = [trip.detected_after_s for trip in trips if trip.detected_after_s is not None]
        spread = f"{statistics.median(times_s):.0f} / {max(times_s):.0f}" if times_s else ""
        excess_c = max(trip.excess_c for trip in trips)
        cells = (number, fault, len(trips), len(times_s), spread, f"{excess_c:.1f}", shown)
        return f"| {' | '.join(str(cell) for cell in cells)} |\n"
    if number == 44:  # the days themselves
        false_all = sum(found.false_trips().values())
        return f"| {number} | {fault} | {len(found.days)} | | | | {false_all} |\n"
    test = test_of(number)
    if test not in found.tests:
        return f"| {number} | {fault} | not built | | | | |\n"
    passed = "all" if found.tests[test] else "**failed**"
    return f"| {number} | {fault} | [test](../{test}) | {passed} | | | {shown} |\n"
