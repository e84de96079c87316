"""Bitterness of a day under way: each hop by the heat that it has really had, and by what it will have."""

from __future__ import annotations

from kettlebridge.brewing.bitter_as_brewed import hot_history
from kettlebridge.brewing.hop_plan import FALL_MIN
from kettlebridge.brewing.isomerisation import Span, boil_minutes
from kettlebridge.brewing.outlook import Bitter
from kettlebridge.brewing.under_way import UnderWay
from kettlebridge.model.plan import Addition, AdditionKind, Aim, HopStandStep, Plan
from kettlebridge.model.trace import Trace
from kettlebridge.model.units import S_PER_MIN


def hops_under_way(plan: Plan, aim: Aim, trace: Trace, way: UnderWay) -> tuple[Bitter, ...] | None:
    """All hops of the kettle side; None where the profile does not say their alpha acid."""
    found = []
    if aim.first_wort_alpha_grams:
        begun_s = next((span.begun_s for span in trace.spans if span.index == way.boil_index), None)
        found.append(_in_since(plan, trace, way, (aim.first_wort_alpha_grams, begun_s)))
    for index, (addition, made) in way.additions:
        if addition.kind is not AdditionKind.HOPS:
            continue
        if addition.alpha_percent is None:
            return None
        alpha_g = addition.grams * addition.alpha_percent / 100.0
        if made is not None:
            found.append(_in_since(plan, trace, way, (alpha_g, made.at_s)))
        elif index >= way.here:
            minutes = boil_minutes(_to_come(plan, way, index, addition))
            found.append(Bitter(alpha_g=alpha_g, minutes=minutes, lies_in=False))
    return tuple(found)


def waits_min(way: UnderWay) -> float:
    """Before the end of the boil, the earliest of what is still to go into it."""
    waiting = [
        addition.before_end_min for index, (addition, made) in way.additions if index == way.boil_index and made is None
    ]
    return min(max(waiting, default=0.0), way.boil_left_min)


def _in_since(plan: Plan, trace: Trace, way: UnderWay, hop: tuple[float, float | None]) -> Bitter:
    alpha_g, since_s = hop
    minutes = 0.0 if since_s is None else boil_minutes(hot_history(trace, since_s))
    minutes += boil_minutes(_boil(plan, way.boil_left_min)) + boil_minutes(_after_boil(plan, way))
    return Bitter(alpha_g=alpha_g, minutes=minutes, lies_in=True)


def _to_come(plan: Plan, way: UnderWay, index: int, addition: Addition) -> tuple[Span, ...]:
    """The hot time of a hop that is not in yet."""
    step = plan.profile.steps[index]
    if isinstance(step, HopStandStep):
        left_min = _stand_left_min(way, index, step)
        return (Span(minutes=min(addition.before_end_min, left_min), from_c=step.at_c, to_c=step.at_c),)
    return (*_boil(plan, min(addition.before_end_min, way.boil_left_min)), *_after_boil(plan, way))


def _boil(plan: Plan, minutes: float) -> tuple[Span, ...]:
    return (Span(minutes=minutes, from_c=plan.kettle.boil_c, to_c=plan.kettle.boil_c),)


def _after_boil(plan: Plan, way: UnderWay) -> tuple[Span, ...]:
    """The fall to the stand and the stand, as far as they are still to come."""
    spans: list[Span] = []
    for index, step in enumerate(plan.profile.steps):
        if not isinstance(step, HopStandStep) or index < way.here:
            continue
        stand_c = min(step.at_c, plan.kettle.boil_c)
        if index > way.here:
            spans.append(Span(minutes=FALL_MIN, from_c=plan.kettle.boil_c, to_c=stand_c))
        spans.append(Span(minutes=_stand_left_min(way, index, step), from_c=stand_c, to_c=stand_c))
    return tuple(spans)


def _stand_left_min(way: UnderWay, index: int, step: HopStandStep) -> float:
    view = way.last.step
    if view is not None and view.index == index and view.remaining_s is not None:
        return view.remaining_s / S_PER_MIN
    return max(step.for_min + dict(way.last.later_s).get(index, 0.0) / S_PER_MIN, 0.0)
