"""The profile of a batch as it really went: for the same beer again.

Temperatures are the ones asked for at each step's end, times the ones that counted, litres the ones confirmed. What
was never begun stays as planned. What cannot be written into a profile, or was not as it should be, becomes a note.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from kettlebridge.core.sequencer import current_step
from kettlebridge.core.state import State
from kettlebridge.core.thermal import bed_c
from kettlebridge.model.command import CommandKind
from kettlebridge.model.event import Event, EventCode, Scalar
from kettlebridge.model.inputs import Inputs
from kettlebridge.model.plan import (
    Addition,
    AdditionKind,
    AnyStep,
    AskKind,
    AskStep,
    BoilStep,
    ChillStep,
    CirculateStep,
    HeatStep,
    HopStandStep,
    Plan,
    Profile,
    RestStep,
)
from kettlebridge.model.units import G_PER_KG, S_PER_MIN

LEAST_MIN = 1.0
"""A timed step that counted less was left out, not brewed."""
HELD_NEAR_C = 0.5
"""A rest whose mean was further from what was asked for is worth a word."""
DIGITS = 1
LITRE_DIGITS = 2
WATER = "Water"
TIMED = RestStep | BoilStep | HopStandStep | CirculateStep


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """Something to know of the new profile; `values` are (name, scalar) pairs."""

    code: str
    values: tuple[tuple[str, Scalar], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Lived:
    """One tick: the state before it and after it, what it was given, and what happened."""

    before: State
    after: State
    inputs: Inputs
    events: tuple[Event, ...]


@dataclass(slots=True)
class _Step:
    """What was seen of one step. `made` are additions: index, seconds before the planned end then, that end."""

    done: bool = False
    skipped: bool = False
    timer_s: float = 0.0
    target_c: float | None = None
    ended_c: float | None = None
    litres: float | None = None
    held_c_s: float = 0.0
    held_s: float = 0.0
    made: list[tuple[int, float, float]] = field(default_factory=list)
    water: list[tuple[float, float]] = field(default_factory=list)


def repeated(plan: Plan, ticks: Iterable[Lived]) -> tuple[Profile, tuple[Note, ...]]:
    """The profile, and what to know of it."""
    seen = [_Step() for _ in plan.profile.steps]
    for tick in ticks:
        _watch(plan, seen, tick)
    notes: list[Note] = []
    steps = []
    for step, one in zip(plan.profile.steps, seen, strict=True):
        steps += _again(step, one, notes)
    if not all(one.done for one in seen):
        notes.append(Note(code="ended_early", values=(("step", _first_undone(plan, seen)),)))
    return _with_water(plan, tuple(steps), seen, notes), tuple(notes)


def _first_undone(plan: Plan, seen: list[_Step]) -> str:
    return next(step.name for step, one in zip(plan.profile.steps, seen, strict=True) if not one.done)


def _watch(plan: Plan, seen: list[_Step], tick: Lived) -> None:
    before = tick.before
    if current_step(plan, before.stage) is None:
        return
    one = seen[before.stage.step_index]
    one.timer_s, one.target_c = before.stage.timer_s, before.stage.target_c
    one.ended_c = before.evidence.control_c
    if before.stage.name == "hold":
        dt_s = tick.after.now_s - before.now_s
        held_c = bed_c(before.thermal) or before.evidence.control_c
        if held_c is not None:
            one.held_s, one.held_c_s = one.held_s + dt_s, one.held_c_s + held_c * dt_s
    added_l = _water_l(tick)
    if added_l:
        one.water.append((before.stage.timer_s, added_l))
    for event in tick.events:
        _take(plan, seen, event, tick)
    rose_l = (tick.after.ledger.volume_l or 0.0) - (before.ledger.volume_l or 0.0) - added_l
    if rose_l > 0.0 and any(event.code is EventCode.CALL_ANSWERED for event in tick.events):
        one.litres = (one.litres or 0.0) + rose_l


def _water_l(tick: Lived) -> float:
    """Litres that a taken "adding water" of this tick brought."""
    taken = {
        event.get("command")
        for event in tick.events
        if event.code is EventCode.COMMAND_TAKEN and event.get("reason") is None
    }
    litres = 0.0
    for command in tick.inputs.commands:
        if command.kind is CommandKind.ADDING_WATER and command.id in taken:
            litres += command.litres or 0.0
    return litres


def _take(plan: Plan, seen: list[_Step], event: Event, tick: Lived) -> None:
    index = event.get("index")
    if event.code is EventCode.STEP_DONE and isinstance(index, int):
        seen[index].done, seen[index].skipped = True, bool(event.get("skipped"))
    elif event.code is EventCode.ADDITION_MADE and isinstance(index, int):
        step, stage = current_step(plan, tick.before.stage), tick.before.stage
        made_min = event.figure("made_before_end_min")
        if isinstance(step, BoilStep | HopStandStep):
            seen[stage.step_index].made.append((index, made_min * S_PER_MIN, step.for_min * S_PER_MIN + stage.extra_s))


def _again(step: AnyStep, one: _Step, notes: list[Note]) -> list[AnyStep]:
    """The step as it was, if it was."""
    if not one.done:
        return [step]
    if isinstance(step, TIMED):
        return _timed(step, one, notes)
    if isinstance(step, HeatStep):
        to_c = one.ended_c if one.skipped and one.ended_c is not None else one.target_c or step.to_c
        return [replace(step, to_c=round(to_c, DIGITS))]
    if isinstance(step, ChillStep) and one.skipped:
        notes.append(Note(code="left_out", values=(("step", step.name),)))
        return []
    if isinstance(step, AskStep) and step.what is not AskKind.FILL and one.litres is not None:
        return [replace(step, litres=round(one.litres, LITRE_DIGITS))]
    return [step]


def _timed(step: TIMED, one: _Step, notes: list[Note]) -> list[AnyStep]:
    for_min = round(one.timer_s / S_PER_MIN, DIGITS)
    if for_min < LEAST_MIN:
        notes.append(Note(code="left_out", values=(("step", step.name),)))
        return []
    if isinstance(step, BoilStep):
        sanitise = None if step.sanitise_last_min is None else min(step.sanitise_last_min, for_min)
        made = _additions(step, one, for_min, notes)
        return [replace(step, for_min=for_min, additions=made, sanitise_last_min=sanitise)]
    at_c = round(one.target_c or step.at_c, DIGITS)
    if isinstance(step, HopStandStep):
        return [replace(step, for_min=for_min, at_c=at_c, additions=_additions(step, one, for_min, notes))]
    if isinstance(step, CirculateStep):
        return [replace(step, for_min=for_min, at_c=at_c)]
    held_c = one.held_c_s / one.held_s if one.held_s else at_c
    if abs(held_c - at_c) > HELD_NEAR_C:
        notes.append(Note(code="held_else", values=(("step", step.name), ("at_c", at_c), ("held_c", held_c))))
    pump_after_min = None if step.pump_after_min is None else min(step.pump_after_min, for_min)
    return [replace(step, for_min=for_min, at_c=at_c, pump_after_min=pump_after_min)]


def _additions(step: BoilStep | HopStandStep, one: _Step, for_min: float, notes: list[Note]) -> tuple[Addition, ...]:
    """Each at its real time, counted from the real end; water that was poured in meanwhile is one of them."""
    made: list[Addition] = []
    for index, addition in enumerate(step.additions):
        times = [(before_s, end_s) for at, before_s, end_s in one.made if at == index]
        if not times:
            notes.append(Note(code="never_made", values=(("addition", addition.name), ("grams", addition.grams))))
            continue
        before_s, end_s = times[0]
        made.append(replace(addition, before_end_min=_within((before_s + one.timer_s - end_s) / S_PER_MIN, for_min)))
    for timer_s, litres in one.water:
        made.append(
            Addition(
                name=WATER,
                kind=AdditionKind.OTHER,
                grams=round(litres * G_PER_KG, DIGITS),
                before_end_min=_within((one.timer_s - timer_s) / S_PER_MIN, for_min),
            )
        )
    return tuple(sorted(made, key=lambda each: -each.before_end_min))


def _within(minutes: float, for_min: float) -> float:
    return min(max(round(minutes, DIGITS), 0.0), for_min)


def _with_water(plan: Plan, steps: tuple[AnyStep, ...], seen: list[_Step], notes: list[Note]) -> Profile:
    """The litres that were really poured; water added in between joins the pouring before it."""
    profile = plan.profile
    fills = [one for step, one in zip(profile.steps, seen, strict=True) if _asks(step, AskKind.FILL)]
    fill_l = fills[0].litres if fills and fills[0].litres is not None else profile.water.fill_l
    mash_l = _added_between(profile, seen, AskKind.FILL, AskKind.LIFT)
    rinse_l = _added_between(profile, seen, AskKind.LIFT, AskKind.BASKET_AWAY)
    sparges = [nth for nth, step in enumerate(steps) if _asks(step, AskKind.SPARGE)]
    if not sparges:
        mash_l, rinse_l = mash_l + rinse_l, 0.0
    joined_l = mash_l + rinse_l
    if joined_l:
        notes.append(Note(code="water_joined", values=(("litres", joined_l),)))
    fill_l = round(fill_l + mash_l, LITRE_DIGITS)
    made, sparge_l = list(steps), 0.0
    for nth in sparges:
        more_l = rinse_l if nth == sparges[0] else 0.0
        litres = round((_litres(steps[nth]) or profile.water.sparge_l) + more_l, LITRE_DIGITS)
        made[nth], sparge_l = _filled(steps[nth], litres), sparge_l + litres
    first = next((nth for nth, step in enumerate(made) if _asks(step, AskKind.FILL)), None)
    if first is not None:
        made[first] = _filled(made[first], fill_l)
    water = replace(profile.water, fill_l=fill_l, sparge_l=round(sparge_l, LITRE_DIGITS))
    return replace(profile, water=water, steps=tuple(made))


def _asks(step: AnyStep, what: AskKind) -> bool:
    return isinstance(step, AskStep) and step.what is what


def _litres(step: AnyStep) -> float | None:
    return step.litres if isinstance(step, AskStep) else None


def _filled(step: AnyStep, litres: float) -> AnyStep:
    return replace(step, litres=litres) if isinstance(step, AskStep) else step


def _added_between(profile: Profile, seen: list[_Step], first: AskKind, last: AskKind) -> float:
    """Litres added by hand from one ask of that kind on to the next ask of the other; boils and stands keep theirs."""
    litres, counts = 0.0, False
    for step, one in zip(profile.steps, seen, strict=True):
        counts = (counts or _asks(step, first)) and not _asks(step, last)
        if counts and not isinstance(step, BoilStep | HopStandStep):
            for _, added_l in one.water:
                litres += added_l
    return litres
