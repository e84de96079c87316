"""What a virtual day came to: per step what was planned and reached, additions, energy. Figures only."""

from __future__ import annotations

from dataclasses import dataclass, field

from kettlebridge.core.drive import controlled_bed_c
from kettlebridge.core.snapshot import target_c
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.plan import Plan, StepKind
from kettlebridge.model.units import J_PER_KWH
from kettlebridge.runtime.replay import NumberedEvent
from kettlebridge.simulated.virtual_day import Second

REACHED_WITHIN_C = 0.3
STAYS_S = 10.0
"""On the way down, past cold water that was just poured in, a target is reached only by staying near it."""
HEATED = frozenset({StepKind.HEAT, StepKind.REST, StepKind.CIRCULATE})
"""Steps that are on their way up to a target, for which reaching and overshooting it means something."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StepFigures:
    """One step as it went. Times in seconds of the day, temperatures of what is held at the target.

    That is the grain bed, as it is reckoned, where it is controlled; elsewhere what the control probe reads.

    `overshoot_c` and `reached_after_s` are None for a step that heats to nothing, or never got there.
    """

    step: str
    do: str
    target_c: float | None
    reached_after_s: float | None
    overshoot_c: float | None
    duration_s: float
    energy_kwh: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AdditionFigures:
    """One addition, in minutes before the end of its step."""

    addition: str
    planned_before_end_min: float
    made_before_end_min: float


@dataclass(slots=True)
class _Open:
    """The step in hand while it is being watched."""

    step: str
    do: str
    begun_s: float
    begun_j: float
    begun_c: float | None = None
    near_since_s: float | None = None
    target_c: float | None = None
    reached_after_s: float | None = None
    highest_c: float | None = None


@dataclass(slots=True)
class DayReport:
    """Watches a day second by second; `steps` and `additions` grow as they end."""

    plan: Plan
    steps: list[StepFigures] = field(default_factory=list)
    additions: list[AdditionFigures] = field(default_factory=list)
    events: list[NumberedEvent] = field(default_factory=list)
    _open: _Open | None = None

    def watch(self, second: Second) -> None:
        """Takes in one tick."""
        state = second.state
        for event in second.events:
            self.events.append((state.n - 1, event))
            self._take(event, state.now_s, state.ledger.energy_j)
        held_c = controlled_bed_c(self.plan.kettle, state.thermal)
        held_c = state.evidence.control_c if held_c is None else held_c
        if self._open is not None and held_c is not None:
            self._measure(self._open, held_c, state.now_s, target_c(self.plan, state))

    def _take(self, event: Event, now_s: float, energy_j: float) -> None:
        if event.code is EventCode.STEP_BEGUN:
            self._open = _Open(step=str(event.get("step")), do=str(event.get("do")), begun_s=now_s, begun_j=energy_j)
        elif event.code is EventCode.STEP_DONE and self._open is not None:
            self.steps.append(_closed(self._open, now_s, energy_j))
            self._open = None
        elif event.code is EventCode.ADDITION_MADE:
            self.additions.append(
                AdditionFigures(
                    addition=str(event.get("addition")),
                    planned_before_end_min=event.figure("planned_before_end_min"),
                    made_before_end_min=event.figure("made_before_end_min"),
                )
            )

    def _measure(self, step: _Open, held_c: float, now_s: float, wanted_c: float | None) -> None:
        step.target_c = wanted_c
        if wanted_c is None:
            return
        if step.begun_c is None:
            step.begun_c = held_c
        near = abs(held_c - wanted_c) <= REACHED_WITHIN_C
        step.near_since_s = (step.near_since_s or now_s) if near else None
        stays = step.near_since_s is not None and now_s - step.near_since_s >= STAYS_S
        if step.reached_after_s is None and near and (held_c >= step.begun_c or stays):
            step.reached_after_s = now_s - step.begun_s
        if step.reached_after_s is not None:
            step.highest_c = held_c if step.highest_c is None else max(step.highest_c, held_c)


def _closed(step: _Open, now_s: float, energy_j: float) -> StepFigures:
    heated = StepKind(step.do) in HEATED and step.highest_c is not None and step.target_c is not None
    overshoot_c = max(step.highest_c - step.target_c, 0.0) if heated and step.highest_c and step.target_c else None
    return StepFigures(
        step=step.step,
        do=step.do,
        target_c=step.target_c,
        reached_after_s=step.reached_after_s,
        overshoot_c=None if overshoot_c is None else round(overshoot_c, 3),
        duration_s=round(now_s - step.begun_s, 1),
        energy_kwh=round((energy_j - step.begun_j) / J_PER_KWH, 4),
    )
