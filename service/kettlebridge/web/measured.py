"""What was measured on the day, as a page shows it: what comes of it, and the choices, some with a form."""

from __future__ import annotations

from dataclasses import dataclass

from kettlebridge.brewing.rescue import Advice
from kettlebridge.brewing.rescue_measured import measured_day
from kettlebridge.documents.rescue_words import rescue_words
from kettlebridge.model.plan import Plan
from kettlebridge.model.trace import Trace

SIGNS = {"boil_longer": 1.0, "boil_shorter": -1.0}
"""Choices that the kettle can carry out by itself: more or fewer minutes of a step."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """`minutes` of the step `step_index` do it, None where hands must."""

    words: str
    minutes: str | None = None
    step_index: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """In sentences. `problem` stands alone: nothing can be said, and why."""

    found: str = ""
    choices: tuple[Choice, ...] = ()
    unmended: str = ""
    problem: str = ""


def measured(plan: Plan | None, trace: Trace) -> Measured:
    """What the newest measurements say."""
    try:
        found = None if plan is None else measured_day(plan, trace)
    except ValueError as error:
        return Measured(problem=f"Careful: {error}.")
    if found is None:
        aims = plan is not None and plan.profile.aim is not None
        return Measured(problem=NOTHING_YET if aims else NO_AIM)
    return Measured(
        found=rescue_words(found.found),
        choices=tuple(_choice(mend) for mend in found.mends),
        unmended=rescue_words(found.unmended),
    )


NOTHING_YET = "Nothing can be said yet: measure litres and gravity once the grain is out and rinsed, before the boil."
NO_AIM = "This profile does not say what it is to come to; one that plan writes does."


def _choice(mend: Advice) -> Choice:
    if mend.code not in SIGNS:
        return Choice(words=rescue_words(mend))
    minutes = SIGNS[mend.code] * mend.get("minutes")
    return Choice(words=rescue_words(mend), minutes=f"{minutes:.0f}", step_index=int(mend.get("step")) - 1)
