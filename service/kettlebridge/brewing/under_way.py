"""How far a day's wort is: what was measured of it without the grain, what went in, what is left to boil."""

from __future__ import annotations

from dataclasses import dataclass

from kettlebridge.model.event import EventCode
from kettlebridge.model.plan import Addition, AdditionKind, AskKind, AskStep, BoilStep, HopStandStep, Plan
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.model.trace import Happening, Trace
from kettlebridge.model.units import S_PER_MIN

CHANGES_WORT = frozenset({AskKind.FILL, AskKind.DOUGH_IN, AskKind.INFUSE, AskKind.LIFT, AskKind.SPARGE})
"""While one of these is to come before the boil, nothing measured says what will be boiled."""

Made = tuple[Addition, Happening | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class UnderWay:
    """`here` is the step in hand. `gravities` and `volumes` are those of wort without grain, oldest first.

    `boils_s`: when the boil was told. `additions` of boil and stand by the place of their step and their own, each
    with its making where it was made.
    """

    last: Snapshot
    volume_l: float
    here: int
    boil: BoilStep
    boil_index: int
    boils_s: float | None
    boil_left_min: float
    boiled_min: float
    gravities: tuple[Happening, ...]
    volumes: tuple[Happening, ...]
    additions: tuple[tuple[int, Made], ...]

    @property
    def sugars(self) -> tuple[Made, ...]:
        """Those of the additions that dissolve."""
        return tuple(made for _, made in self.additions if made[0].kind is AdditionKind.SUGAR)


def under_way(plan: Plan, trace: Trace) -> UnderWay | None:
    """None for a day without a boil, before the wort is without its grain, and once the kettle is empty."""
    last = trace.last
    found = next(((n, step) for n, step in enumerate(plan.profile.steps) if isinstance(step, BoilStep)), None)
    if last is None or last.step is None or last.volume_l is None or found is None:
        return None
    boil_index, boil = found
    here = last.step.index
    if not _settled(plan, here, boil_index) or _refilled(plan, here, boil_index):
        return None
    left_min = _left_min(last, boil, boil_index)
    measured = trace.of(EventCode.MEASURED)
    without_grain = [
        each
        for each in measured
        if each.seen.step is not None
        and each.seen.volume_l is not None
        and _settled(plan, each.seen.step.index, boil_index)
    ]
    return UnderWay(
        last=last,
        volume_l=last.volume_l,
        here=here,
        boil=boil,
        boil_index=boil_index,
        boils_s=trace.boil_told_s,
        boil_left_min=left_min,
        boiled_min=_boiled_min(trace, last, boil_index),
        gravities=tuple(each for each in without_grain if each.event.get("what") == "gravity"),
        volumes=tuple(each for each in without_grain if each.event.get("what") == "volume"),
        additions=_additions(plan, trace),
    )


def _settled(plan: Plan, index: int, boil_index: int) -> bool:
    steps = plan.profile.steps[index:boil_index]
    return not any(isinstance(step, AskStep) and step.what in CHANGES_WORT for step in steps)


def _refilled(plan: Plan, here: int, boil_index: int) -> bool:
    """Whether what is in the kettle is water for cleaning."""
    steps = plan.profile.steps[boil_index : here + 1]
    return any(isinstance(step, AskStep) and step.what in {AskKind.EMPTY, AskKind.FILL} for step in steps)


def _left_min(last: Snapshot, boil: BoilStep, boil_index: int) -> float:
    step = last.step
    if step is None or step.index > boil_index:
        return 0.0
    if step.index == boil_index and step.remaining_s is not None:
        return step.remaining_s / S_PER_MIN
    return max(boil.for_min + dict(last.later_s).get(boil_index, 0.0) / S_PER_MIN, 0.0)


def _boiled_min(trace: Trace, last: Snapshot, boil_index: int) -> float:
    boils_s = trace.boil_began_s
    if boils_s is None:
        return 0.0
    span = next((each for each in trace.spans if each.index == boil_index), None)
    ended_s = None if span is None else span.ended_s
    return (min(last.now_s, last.now_s if ended_s is None else ended_s) - boils_s) / S_PER_MIN


def _additions(plan: Plan, trace: Trace) -> tuple[tuple[int, Made], ...]:
    made = {
        (each.seen.step.index, each.event.get("index")): each
        for each in trace.of(EventCode.ADDITION_MADE)
        if each.seen.step is not None
    }
    return tuple(
        (index, (addition, made.get((index, place))))
        for index, step in enumerate(plan.profile.steps)
        if isinstance(step, BoilStep | HopStandStep)
        for place, addition in enumerate(step.additions)
    )
