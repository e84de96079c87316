"""A day that is measured, on the simulator: what a choice says is where the day lands that takes it.

The simulated kettle knows no extract: its litres are true, and the extract is what was measured, which nothing loses.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache

import pytest

from kettlebridge.brewing.day_profile import profile_of
from kettlebridge.brewing.extract import plato_of
from kettlebridge.brewing.gravity import extract_kg, plato, sg
from kettlebridge.brewing.rescue import Advice, Rescue
from kettlebridge.brewing.rescue_measured import measured_day, measured_days
from kettlebridge.brewing.water import hot_litres
from kettlebridge.core.snapshot import snapshot
from kettlebridge.model.command import Command, CommandKind
from kettlebridge.model.ids import BatchId, CommandId
from kettlebridge.model.plan import AskKind, AskStep, Plan, StepKind
from kettlebridge.model.trace import Trace
from kettlebridge.runtime.traces import EVERY_S, Course
from kettlebridge.simulated.virtual_day import VirtualDay
from tests.brewing.sheets import sheet

NEAR_L = 0.25
"""Between litres said and come to: the boil-off of the kettle file is the simulator's within 10 %."""
WEAK_SG = 0.006


@dataclass(frozen=True, slots=True, kw_only=True)
class Lived:
    """A day measured once: what was said then, and the litres and gravity it truly came to after the boil."""

    plan: Plan
    said: Rescue
    taken: Advice
    end_l: float
    end_sg: float
    boiled_min: float
    trace: Trace


def before_the_climb(day: VirtualDay) -> bool:
    step = day.plan.profile.steps[day.state.stage.step_index]
    return isinstance(step, AskStep) and step.what is AskKind.BASKET_AWAY


def half_an_hour_into_the_boil(day: VirtualDay) -> bool:
    step = day.plan.profile.steps[day.state.stage.step_index]
    return step.kind is StepKind.BOIL and day.state.stage.timer_s >= 1800.0


@cache
def lived(pair: tuple[str, str], when: Callable[[VirtualDay], bool], take: str) -> Lived:
    """The day of a sheet whose wort turns out weak, with the choice `take` taken."""
    planned = sheet(*pair)
    plan = Plan(kettle=planned.kettle, profile=profile_of(planned))
    day, course = VirtualDay(plan, seed=3), Course(BatchId("day"))
    said: Rescue | None = None
    taken: Advice | None = None
    told_s, held_kg, end_l = None, 0.0, 0.0
    for second in day.seconds():
        if second.events or second.state.n % EVERY_S == 0:
            course.add(snapshot(plan, BatchId("day"), second.state), second.events)
        if told_s is None and when(day):
            told_s = day.now_s
            cold_l = day.world.truth().volume_l
            found_sg = planned.gravities.pre_boil_sg - WEAK_SG
            held_kg = extract_kg(cold_l, plato(found_sg))
            at_c = second.state.evidence.control_c or 60.0
            day.tell(_measured("l", litres=hot_litres(cold_l, at_c), at_c=at_c))
            day.tell(_measured("g", gravity_sg=found_sg, at_c=20.0))
        elif told_s is not None and said is None and day.now_s > told_s + 1.0:
            said = measured_day(plan, course.trace())
            assert said is not None
            taken = said.unmended if take == "nothing" else next(each for each in said.mends if each.code == take)
            if take != "nothing":
                day.tell(_extend(taken))
        step = plan.profile.steps[min(second.state.stage.step_index, len(plan.profile.steps) - 1)]
        if step.kind is StepKind.CHILL:
            end_l = day.world.truth().volume_l
            break
    assert said is not None
    assert taken is not None
    assert end_l > 0.0
    trace = course.trace()
    boil = next(span for span in trace.spans if span.kind is StepKind.BOIL)
    boils_s = next(each.at_s for each in trace.happenings if each.event.code.value == "boil_found")
    return Lived(
        plan=plan,
        said=said,
        taken=taken,
        end_l=end_l,
        end_sg=sg(plato_of(held_kg, end_l)),
        boiled_min=((boil.ended_s or 0.0) - boils_s) / 60.0,
        trace=trace,
    )


def _measured(name: str, **read: float) -> Command:
    return replace(Command(id=CommandId(name), kind=CommandKind.MEASURED, who="brewer"), **read)  # type: ignore[arg-type]  # floats all


def _extend(taken: Advice) -> Command:
    minutes = taken.get("minutes") * (-1.0 if taken.code == "boil_shorter" else 1.0)
    return Command(
        id=CommandId("x"),
        kind=CommandKind.EXTEND,
        who="brewer",
        minutes=minutes,
        step_index=int(taken.get("step")) - 1,
    )


DAYS = [("wick_mild", "thimble"), ("corvane_pale", "saddle")]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("pair", "when", "take"),
    [
        (DAYS[0], before_the_climb, "nothing"),
        (DAYS[0], before_the_climb, "boil_longer"),
        (DAYS[0], half_an_hour_into_the_boil, "boil_longer"),
        (DAYS[1], before_the_climb, "boil_longer"),
    ],
)
def test_a_choice_lands_where_it_said(pair: tuple[str, str], when: Callable[[VirtualDay], bool], take: str) -> None:
    day = lived(pair, when, take)
    assert day.plan.profile.aim is not None
    kept_l = day.plan.kettle.dead_space_l + day.plan.profile.aim.hops_keep_l
    assert day.end_l - kept_l == pytest.approx(day.taken.get("fermenter_l"), abs=NEAR_L)
    points = (day.end_sg - 1.0) / day.end_l
    assert day.end_sg == pytest.approx(day.taken.get("original_sg"), abs=NEAR_L * points)


@pytest.mark.slow
@pytest.mark.parametrize("when", [before_the_climb, half_an_hour_into_the_boil])
def test_a_boil_to_come_and_one_in_hand_last_as_long_as_was_chosen(when: Callable[[VirtualDay], bool]) -> None:
    as_planned, longer = lived(DAYS[0], before_the_climb, "nothing"), lived(DAYS[0], when, "boil_longer")
    assert longer.boiled_min - as_planned.boiled_min == pytest.approx(longer.taken.get("minutes"), abs=0.2)


@pytest.mark.slow
def test_the_report_of_the_day_knows_what_was_said_then() -> None:
    day = lived(DAYS[0], before_the_climb, "nothing")
    *_, (_, again) = measured_days(day.plan, day.trace)
    assert again == day.said
    assert day.said.found.get("efficiency_percent") < day.said.found.get("planned_percent")


@pytest.mark.slow
def test_measured_with_the_grain_in_it_says_nothing_of_the_beer() -> None:
    planned = sheet(*DAYS[0])
    plan = Plan(kettle=planned.kettle, profile=profile_of(planned))
    day, course, told = VirtualDay(plan, seed=3), Course(BatchId("day")), False
    for second in day.seconds():
        if second.events:
            course.add(snapshot(plan, BatchId("day"), second.state), second.events)
        step = plan.profile.steps[second.state.stage.step_index]
        if not told and step.kind is StepKind.REST:
            day.tell(_measured("g", gravity_sg=1.060, at_c=20.0))
            told = True
        if isinstance(step, AskStep) and step.what is AskKind.BASKET_AWAY:
            break
    assert any(each.event.code.value == "measured" for each in course.trace().happenings)
    assert measured_day(plan, course.trace()) is None
