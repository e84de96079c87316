"""A batch as it was brewed, read from its record: times, additions, and what was measured. Unknown is None."""

from __future__ import annotations

from dataclasses import dataclass

from kettlebridge.brewing.extract import EXTRACT_L_PER_KG
from kettlebridge.brewing.gravity import extract_kg, plato
from kettlebridge.model.event import EventCode
from kettlebridge.model.plan import AdditionKind, AskKind, AskStep, BoilStep, HopStandStep, Plan, RestStep, StepKind
from kettlebridge.model.plan import CirculateStep as Circulate
from kettlebridge.model.trace import Happening, Span, Trace
from kettlebridge.model.units import G_PER_KG, MIN_PER_H, S_PER_MIN

LEAST_BOIL_MIN = 10.0
"""From a shorter boil no rate can be read."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StepTimes:
    """Minutes; `planned_min` None for a step that lasts as long as it takes, `lived_min` None for one not ended."""

    name: str
    kind: StepKind
    planned_min: float | None
    lived_min: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class AdditionTimes:
    """`planned_min` and `made_min` before the end of its step, `made_s` batch time."""

    name: str
    planned_min: float
    made_min: float
    made_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Brewed:
    """Litres and gravities at 20 °C. `strike_error_c`: the control probe, as the first rest begins, less that rest.

    `boil_off_l_per_h` is without what rises on the way to the boil, as far as that was measured after the climb.
    """

    steps: tuple[StepTimes, ...]
    additions: tuple[AdditionTimes, ...]
    water_l: float | None
    grain_kg: float
    pre_boil_l: float | None
    pre_boil_sg: float | None
    post_boil_l: float | None
    original_sg: float | None
    boil_min: float | None
    strike_error_c: float | None

    @property
    def absorption_l_per_kg(self) -> float | None:
        """Apparent: (water in - wort collected) / kg of grain."""
        if self.water_l is None or self.pre_boil_l is None or not self.grain_kg:
            return None
        return (self.water_l - self.pre_boil_l) / self.grain_kg

    @property
    def collected_kg(self) -> float | None:
        """Extract in the kettle before the boil."""
        if self.pre_boil_l is None or self.pre_boil_sg is None:
            return None
        return extract_kg(self.pre_boil_l, plato(self.pre_boil_sg))

    def boil_off_l_per_h(self, climb_vapour_l: float, added_l: float) -> float | None:
        """What boiled away in an hour; `added_l` is the room of sugars that went in."""
        if self.pre_boil_l is None or self.post_boil_l is None or self.boil_min is None:
            return None
        if self.boil_min < LEAST_BOIL_MIN:
            return None
        return (self.pre_boil_l + added_l - climb_vapour_l - self.post_boil_l) * MIN_PER_H / self.boil_min


def brewed(plan: Plan, trace: Trace) -> Brewed:
    """What the record of a batch of `plan` tells."""
    boil = next((span for span in trace.spans if span.kind is StepKind.BOIL), None)
    began_s, told_s = trace.boil_began_s, trace.boil_told_s
    ended_s = None if boil is None else boil.ended_s
    collected_s = _collected_s(plan, trace)
    return Brewed(
        steps=tuple(_step_times(plan, span) for span in trace.spans),
        additions=tuple(_addition_times(each) for each in trace.of(EventCode.ADDITION_MADE)),
        water_l=_water_l(trace, told_s),
        grain_kg=plan.profile.water.grain_kg,
        pre_boil_l=_measured(trace, "volume_l", collected_s, told_s),
        pre_boil_sg=_measured(trace, "gravity_sg", collected_s, told_s),
        post_boil_l=None if ended_s is None else _measured(trace, "volume_l", ended_s, None),
        original_sg=None if ended_s is None else _measured(trace, "gravity_sg", ended_s, None),
        boil_min=None if began_s is None or ended_s is None else (ended_s - began_s) / S_PER_MIN,
        strike_error_c=_strike_error_c(plan, trace),
    )


def added_l(plan: Plan) -> float:
    """Room that the sugars of a plan's boil take once dissolved."""
    grams = 0.0
    for step in plan.profile.steps:
        for each in step.additions if isinstance(step, BoilStep) else ():
            grams += each.grams if each.kind is AdditionKind.SUGAR else 0.0
    return EXTRACT_L_PER_KG * grams / G_PER_KG


def _step_times(plan: Plan, span: Span) -> StepTimes:
    step = plan.profile.steps[span.index]
    return StepTimes(
        name=span.name,
        kind=span.kind,
        planned_min=step.for_min if isinstance(step, RestStep | BoilStep | HopStandStep | Circulate) else None,
        lived_min=None if span.ended_s is None else (span.ended_s - span.begun_s) / S_PER_MIN,
    )


def _addition_times(each: Happening) -> AdditionTimes:
    return AdditionTimes(
        name=str(each.event.get("addition")),
        planned_min=each.event.figure("planned_before_end_min"),
        made_min=each.event.figure("made_before_end_min"),
        made_s=each.at_s,
    )


def _collected_s(plan: Plan, trace: Trace) -> float:
    """From when on what is measured is wort without its grain: the end of the last lift, sparge or drain."""
    found_s = 0.0
    for span in trace.spans:
        step = plan.profile.steps[span.index]
        lauters = isinstance(step, AskStep) and step.what in {AskKind.LIFT, AskKind.SPARGE, AskKind.DRAIN}
        if lauters and span.ended_s is not None:
            found_s = max(found_s, span.ended_s)
    return found_s


def _measured(trace: Trace, name: str, from_s: float, before_s: float | None) -> float | None:
    """The last figure of that name within that time."""
    found = None
    for each in trace.of(EventCode.MEASURED):
        if from_s <= each.at_s and (before_s is None or each.at_s < before_s):
            value = each.event.number(name)
            found = found if value is None else value
    return found


def _water_l(trace: Trace, before_s: float | None) -> float | None:
    """All the water that was confirmed before the boil: the first filling, and every rise after it."""
    total_l, there_l = None, 0.0
    for each in trace.happenings:
        if before_s is not None and each.at_s >= before_s:
            break
        if each.event.code not in {EventCode.FILL, EventCode.MEASURED}:
            continue
        volume_l = each.event.number("volume_l")
        if volume_l is None:
            continue
        if each.event.code is EventCode.FILL:
            total_l = volume_l if total_l is None else total_l + max(volume_l - there_l, 0.0)
        there_l = volume_l
    return total_l


def _strike_error_c(plan: Plan, trace: Trace) -> float | None:
    rest = next((span for span in trace.spans if span.kind is StepKind.REST), None)
    if rest is None:
        return None
    step = plan.profile.steps[rest.index]
    series = trace.series
    found_c = next(
        (value for at_s, value in zip(series.at_s, series.temperature_c, strict=True) if at_s >= rest.begun_s), None
    )
    return found_c - step.at_c if isinstance(step, RestStep) and found_c is not None else None
