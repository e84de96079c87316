"""A day on the simulator as its record tells it: replayed tick by tick, so the summary checks the record too."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from kettlebridge.app import CORE
from kettlebridge.core.state import State
from kettlebridge.documents.amounts import degrees, duration, energy
from kettlebridge.documents.states import STATE_WORDS
from kettlebridge.documents.steps import planned
from kettlebridge.documents.troubles import why_paused
from kettlebridge.model.ids import BatchId
from kettlebridge.model.inputs import Inputs
from kettlebridge.model.plan import Plan
from kettlebridge.model.units import J_PER_KWH
from kettlebridge.ports import Records
from kettlebridge.runtime.replay import event_hash
from kettlebridge.simulated.day_report import AdditionFigures, DayReport, StepFigures
from kettlebridge.simulated.virtual_day import Second


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """`state` is the last; `as_recorded` says that the replay made exactly the events of the record."""

    report: DayReport
    state: State
    event_hash: str
    as_recorded: bool


def replayed_day(records: Records, batch: BatchId) -> Day:
    """The batch run through the core again. Raises JournalError."""
    plan = records.header(batch).plan
    report = DayReport(plan=plan)
    state = CORE.initial(plan)
    for second in _seconds(plan, records.ticks(batch)):
        report.watch(second)
        state = second.state
    hashed = event_hash(report.events)
    return Day(report=report, state=state, event_hash=hashed, as_recorded=hashed == event_hash(records.events(batch)))


def _seconds(plan: Plan, ticks: Iterable[tuple[int, Inputs]]) -> Iterator[Second]:
    state = CORE.initial(plan)
    for _, inputs in ticks:
        ticked = CORE.tick(plan, state, inputs)
        state = ticked.state
        yield Second(state=state, inputs=inputs, events=ticked.events)


def summary(day: Day, wall_s: float) -> Iterator[str]:
    """The lines: steps, additions, and what it came to. `wall_s` is how long it took in real time."""
    plan, state = day.report.plan, day.state
    yield f"{plan.profile.name} in {plan.kettle.name}, on the simulator"
    yield ""
    yield f"{'step':24} {'planned':28} {'reached after':>14} {'overshoot':>10} {'lasted':>11} {'energy':>9}"
    for step, figures in zip(plan.profile.steps, day.report.steps, strict=False):
        yield f"{step.name[:24]:24} {planned(step)[:28]:28} {_figures(figures)}"
    yield ""
    for addition in day.report.additions:
        yield _addition(addition)
    ended = " ".join(part for part in (f"{STATE_WORDS[state.batch].name}.", why_paused(state.hold_cause)) if part)
    yield f"{ended} {duration(state.now_s)}, {energy(state.ledger.energy_j / J_PER_KWH)}."
    if wall_s > 0.0:
        yield f"It took {duration(wall_s)} of real time: {state.now_s / wall_s:.0f} x."
    same = "the same events" if day.as_recorded else "OTHER EVENTS THAN RECORDED"
    yield f"Replayed from its record: {same}, SHA-256 {day.event_hash}"


def _figures(step: StepFigures) -> str:
    reached = "" if step.reached_after_s is None else duration(step.reached_after_s)
    over = "" if step.overshoot_c is None else degrees(step.overshoot_c)
    return f"{reached:>14} {over:>10} {duration(step.duration_s):>11} {energy(step.energy_kwh):>9}"


def _addition(addition: AdditionFigures) -> str:
    return (
        f"{addition.addition}: planned {addition.planned_before_end_min:.1f} min before the end, "
        f"made {addition.made_before_end_min:.1f} min before it"
    )
