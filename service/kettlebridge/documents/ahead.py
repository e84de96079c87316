"""What lies ahead, by the plan and by the kettle's own figures: when each step begins, and when hands are needed.

Estimates: heating at full power with the kettle's nominal losses, hands as quick as they usually are.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from kettlebridge.brewing.energy import heating_s
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.plan import (
    AnyStep,
    AskStep,
    BoilStep,
    ChillStep,
    CirculateStep,
    HeatStep,
    HopStandStep,
    Plan,
    RestStep,
)
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.ports import LocalTime

J_PER_L_K = 4186.0
ROOM_C = 20.0
S_PER_MIN = 60.0
ASK_S = 300.0
CHILL_S = 1500.0
STAND_BY_UNDER_C = 4.0
HANDS_SOON_S = 90.0
"""Less than this is no time to go away."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ahead:
    """Something to come, `in_s` from now; `hands` says whether somebody must be there for it."""

    index: int
    name: str
    in_s: float
    hands: bool


def steps_ahead(snapshot: Snapshot, plan: Plan) -> tuple[Ahead, ...]:
    """The begin of every step after the one in hand; empty where none is in hand, or the day does not go on."""
    if snapshot.step is None or snapshot.state is not BatchState.RUNNING:
        return ()
    return tuple(_ahead(snapshot, plan))


def hands_needed(snapshot: Snapshot, plan: Plan) -> Ahead | None:
    """The next time somebody is needed, 0 s from now where something is asked already; None: not any more."""
    step = snapshot.step
    if step is None or snapshot.state is not BatchState.RUNNING:
        return None
    if snapshot.calls:
        return Ahead(index=step.index, name=step.name, in_s=0.0, hands=True)
    within = list(_additions(snapshot, plan))
    stands_by = plan.profile.steps[step.index]
    if isinstance(stands_by, BoilStep) and step.stage == "climb":
        to_c = plan.kettle.boil_c - STAND_BY_UNDER_C
        within.append(Ahead(index=step.index, name="the first boil", in_s=_heat_s(snapshot, plan, to_c), hands=True))
    later = [ahead for ahead in steps_ahead(snapshot, plan) if ahead.hands]
    return min((*within, *later), key=_in_s, default=None)


def free_until(snapshot: Snapshot, plan: Plan, time: LocalTime) -> str:
    """When the brewer is needed, as a sentence; empty where that cannot be said."""
    needed = hands_needed(snapshot, plan)
    if needed is None:
        return ""
    if needed.in_s == 0.0:
        return "You are needed now."
    if needed.in_s < HANDS_SOON_S:
        return f"You are needed in a moment: {needed.name}."
    return f"You are free until about {time.hh_mm(snapshot.at_utc_s + needed.in_s)}, then: {needed.name}."


def _ahead(snapshot: Snapshot, plan: Plan) -> Iterator[Ahead]:
    step = snapshot.step
    if step is None:
        return
    steps = plan.profile.steps
    in_s, now_c = _rest_of(steps[step.index], snapshot, plan)
    for index in range(step.index + 1, len(steps)):
        ahead = steps[index]
        yield Ahead(index=index, name=ahead.name, in_s=in_s, hands=isinstance(ahead, AskStep | ChillStep))
        lasts_s, now_c = _lasts(ahead, now_c, snapshot, plan)
        in_s += lasts_s


def _rest_of(step: AnyStep, snapshot: Snapshot, plan: Plan) -> tuple[float, float | None]:
    """How long the step in hand goes on, and how warm it ends."""
    whole_s, ends_c = _lasts(step, snapshot.temperature_c, snapshot, plan)
    view = snapshot.step
    left_s = None if view is None else view.remaining_s
    return (whole_s if left_s is None else left_s), ends_c


def _lasts(step: AnyStep, from_c: float | None, snapshot: Snapshot, plan: Plan) -> tuple[float, float | None]:
    """How long a step takes from `from_c`, and how warm it ends."""
    match step:
        case HeatStep(to_c=to_c):
            return _climb_s(from_c, to_c, snapshot, plan), to_c
        case RestStep(at_c=at_c, for_min=for_min) | CirculateStep(at_c=at_c, for_min=for_min):
            return _climb_s(from_c, at_c, snapshot, plan) + for_min * S_PER_MIN, at_c
        case HopStandStep(at_c=at_c, for_min=for_min):
            return for_min * S_PER_MIN, at_c
        case BoilStep(for_min=for_min):
            return _climb_s(from_c, plan.kettle.boil_c, snapshot, plan) + for_min * S_PER_MIN, plan.kettle.boil_c
        case ChillStep(to_c=to_c):
            return CHILL_S, to_c
        case AskStep():
            return ASK_S, from_c


def _additions(snapshot: Snapshot, plan: Plan) -> Iterator[Ahead]:
    """Of the step in hand, those still to come."""
    view = snapshot.step
    if view is None or view.remaining_s is None:
        return
    step = plan.profile.steps[view.index]
    if isinstance(step, BoilStep | HopStandStep):
        for addition in step.additions:
            in_s = view.remaining_s - addition.before_end_min * S_PER_MIN
            if in_s > 0.0:
                yield Ahead(index=view.index, name=addition.name, in_s=in_s, hands=True)


def _heat_s(snapshot: Snapshot, plan: Plan, to_c: float) -> float:
    return _climb_s(snapshot.temperature_c, to_c, snapshot, plan)


def _climb_s(from_c: float | None, to_c: float, snapshot: Snapshot, plan: Plan) -> float:
    """At full power; losses that never let it get there count as none."""
    kettle, litres = plan.kettle, snapshot.volume_l or plan.profile.water.fill_l
    capacity_j_per_k = max(litres, 1.0) * J_PER_L_K
    span_c = (ROOM_C if from_c is None else from_c, to_c, ROOM_C)
    try:
        return heating_s(capacity_j_per_k, kettle.heater_w, kettle.loss_w_per_k, span_c)
    except ValueError:
        return heating_s(capacity_j_per_k, kettle.heater_w, 0.0, span_c)


def _in_s(ahead: Ahead) -> float:
    return ahead.in_s
