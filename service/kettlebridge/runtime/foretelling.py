"""The forecast beside the ticks: made anew when something changed, else every few seconds, and never part of a tick."""

from __future__ import annotations

import logging
from dataclasses import replace
from typing import Generic

from kettlebridge.model.forecast import Forecast
from kettlebridge.model.plan import Plan
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.runtime.fold import Core, S

log = logging.getLogger(__name__)

EVERY_S = 10.0
"""Batch time between two forecasts while nothing changes."""


class Foreteller(Generic[S]):
    """One batch's newest forecast."""

    def __init__(self, core: Core[S], plan: Plan) -> None:
        self._core = core
        self._plan = plan
        self._of: object = None
        self._due_s = 0.0
        self._newest: Forecast | None = None
        self._broken = False

    def told(self, snapshot: Snapshot, state: S) -> Snapshot:
        """The snapshot with the newest forecast. One that fails is left out: nothing that acts waits for it."""
        of = _about(snapshot)
        if of != self._of or snapshot.now_s >= self._due_s:
            self._of, self._due_s = of, snapshot.now_s + EVERY_S
            self._newest = self._made(state)
        return snapshot if self._newest is None else replace(snapshot, forecast=self._newest)

    def _made(self, state: S) -> Forecast | None:
        try:
            return self._core.forecast(self._plan, state)
        except Exception:
            if not self._broken:
                log.exception("kettle %s: no forecast", self._plan.kettle.name)
            self._broken = True
            return None


def _about(snapshot: Snapshot) -> object:
    """What a forecast hangs on besides the time."""
    step = snapshot.step
    return (
        snapshot.state,
        None if step is None else (step.index, step.stage, step.target_c),
        tuple(call.id for call in snapshot.calls),
    )
