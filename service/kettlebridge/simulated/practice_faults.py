"""The faults of a practice day: drawn by its seed, injected at their moment, undone once somebody has seen to them."""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from dataclasses import dataclass, field

from kettlebridge.core.alarms import AlarmCause
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import CommandKind
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.simulated.day_faults import fits, rule_found
from kettlebridge.simulated.kettle_mishaps import KETTLE_MISHAPS, KettleMishap
from kettlesim.faults.rig import CableRig

DRAWN = 2
"""Of one day."""

AFTER_S = (60.0, 300.0)
"""Into its stage."""

CALM_S = 300.0
"""For so long all is well before the next one comes."""

PASSED_BY_S = 1800.0
"""Somebody comes past by then and sees what no alarm told."""

Tell = Callable[[Snapshot, str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A mishap to come, `after_s` into a stage."""

    mishap: KettleMishap
    moment: tuple[str, str]
    after_s: float


@dataclass(slots=True, kw_only=True)
class Happened:
    """One that came, at batch time `at_s`. `found` is by which rule or alarm and when, soonest first."""

    mishap: KettleMishap
    at_s: float
    found: list[tuple[str, float]] = field(default_factory=list)
    mended_s: float | None = None


def drawn(kettle: Kettle, *, seed: int, hard: bool) -> list[Drawn]:
    """What is to come on the day of that seed, of what this kettle can have."""
    rng = random.Random(f"faults/{seed}")  # noqa: S311  # practice, not secrets
    there = [row for row in KETTLE_MISHAPS if fits(row.fault.needs, kettle) and (hard or not row.hard)]
    rows = rng.sample(there, min(DRAWN, len(there)))
    return [Drawn(mishap=row, moment=rng.choice(row.moments), after_s=rng.uniform(*AFTER_S)) for row in rows]


class PracticeFaults:
    """A publisher that injects what was drawn into `rig`, one at a time, and tells it in plain words.

    One stands until `put_right`: by a simulated brewer, or by the hands in the simulated kettle once a person says to
    have seen its alarm, or by whoever comes past.
    """

    def __init__(self, coming: tuple[Drawn, ...], rig: CableRig, tell: Tell, how: str = "") -> None:
        """`how` a person gets it done, in words."""
        self.happened: list[Happened] = []
        self._coming = list(coming)
        self._how = how
        self._rig = rig
        self._tell = tell
        self._stage = ("", "", 0)
        self._stage_since_s = self._calm_since_s = 0.0
        self._acts_done = 0

    @property
    def standing(self) -> Happened | None:
        """The one that is not put right."""
        return self.happened[-1] if self.happened and self.happened[-1].mended_s is None else None

    def words(self) -> str:
        """What stands on the page about it; empty while nothing stands."""
        standing = self.standing
        return (
            "" if standing is None else f"Mishap: {standing.mishap.happened} {standing.mishap.do} {self._how}".rstrip()
        )

    def publish(self, snapshot: Snapshot, events: tuple[Event, ...]) -> None:
        """Lives one tick."""
        self._follow(snapshot)
        standing = self.standing
        if standing is None:
            self._may_begin(snapshot)
        else:
            self._goes_on(standing, snapshot, events)

    def put_right(self, snapshot: Snapshot) -> None:
        """What stands is mended."""
        standing = self.standing
        if standing is not None:
            standing.mishap.fault.mend(self._rig)
            standing.mended_s = self._calm_since_s = snapshot.now_s
            self._tell(snapshot, f"Put right: {standing.mishap.mended}")

    def _follow(self, snapshot: Snapshot) -> None:
        step = snapshot.step
        stage = ("", "", 0) if step is None else (step.kind.value, step.stage, step.index)
        if stage != self._stage:
            self._stage, self._stage_since_s = stage, snapshot.now_s
        if snapshot.state is not BatchState.RUNNING or snapshot.alarms:
            self._calm_since_s = snapshot.now_s

    def _may_begin(self, snapshot: Snapshot) -> None:
        calm = not self.happened or snapshot.now_s - self._calm_since_s >= CALM_S
        ready = snapshot.state is BatchState.RUNNING and not snapshot.alarms and calm
        for one in self._coming if ready else ():
            if self._is_now(one, snapshot):
                self._coming.remove(one)
                self.happened.append(Happened(mishap=one.mishap, at_s=snapshot.now_s))
                self._acts_done = 0
                self._act(0)
                self._tell(snapshot, self.words())
                return

    def _is_now(self, one: Drawn, snapshot: Snapshot) -> bool:
        if self._stage[:2] != one.moment or snapshot.now_s - self._stage_since_s < one.after_s:
            return False
        return snapshot.outputs.pump_on or "pump" not in one.mishap.fault.needs

    def _goes_on(self, standing: Happened, snapshot: Snapshot, events: tuple[Event, ...]) -> None:
        since_s = snapshot.now_s - standing.at_s
        self._act(math.floor(since_s))
        known = {rule for rule, _ in standing.found}
        rule = rule_found(events, {*standing.mishap.fault.rules, AlarmCause.LINK.value} - known)
        if rule is not None:
            standing.found.append((rule, snapshot.now_s))
        if (standing.found and _seen(events)) or since_s > PASSED_BY_S:
            self.put_right(snapshot)

    def _act(self, whole_s: int) -> None:
        """Once for each second up to that one."""
        standing = self.standing
        while standing is not None and self._acts_done <= whole_s:
            standing.mishap.fault.act(self._rig, float(self._acts_done))
            self._acts_done += 1


def _seen(events: tuple[Event, ...]) -> bool:
    """Whether somebody said so."""
    kind = CommandKind.ACKNOWLEDGE.value
    return any(event.code is EventCode.COMMAND_TAKEN and event.get("kind") == kind for event in events)
