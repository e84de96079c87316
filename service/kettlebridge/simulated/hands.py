"""Hands in the simulated kettle for a person at the keyboard: what they confirm is done there at that moment."""

from __future__ import annotations

import logging

from kettlebridge.core.calls import CallKind
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.plan import Plan
from kettlebridge.model.snapshot import CallView, Snapshot
from kettlebridge.simulated.brewer import LASTS, USUAL_WAYS, Moment, Ways
from kettlesim.acts import Act, StopChiller, StopTransfer
from kettlesim.world import World

log = logging.getLogger(__name__)

ENDS: dict[str, tuple[Act, ...]] = {CallKind.TRANSFERRED.value: (StopTransfer(), StopChiller())}
"""What a confirmation ends, of calls whose act began with the call."""

COOLED_STAGE = "stand"
"""The stage of a hop stand at which the cooling water is turned off again."""


class SimulatedHands:
    """A publisher that acts on the world for each call that is answered, however it was answered."""

    def __init__(self, plan: Plan, world: World, ways: Ways = USUAL_WAYS) -> None:
        self._ways = ways
        self._plan = plan
        self._world = world
        self._open: dict[str, CallView] = {}

    def publish(self, snapshot: Snapshot, events: tuple[Event, ...]) -> None:
        """Begins what lasts when it is called for, does everything else when it is confirmed."""
        if events:
            now_open = {call.id: call for call in snapshot.calls}
            for event in events:
                id_ = str(event.get("call"))
                if event.code is EventCode.CALL_RAISED and id_ in now_open and now_open[id_].kind in LASTS:
                    self._act(snapshot, now_open[id_])
                if event.code is EventCode.CALL_ANSWERED and id_ in self._open:
                    self._answered(snapshot, self._open[id_])
                if event.code is EventCode.STAGE and event.get("stage") == COOLED_STAGE:
                    self._do((StopChiller(),))
            self._open = now_open

    def _answered(self, snapshot: Snapshot, call: CallView) -> None:
        if call.kind in ENDS:
            self._do(ENDS[call.kind])
        elif call.kind not in LASTS:
            self._act(snapshot, call)

    def _act(self, snapshot: Snapshot, call: CallView) -> None:
        self._do(self._ways.acts(Moment(plan=self._plan, snapshot=snapshot, call=call)))

    def _do(self, acts: tuple[Act, ...]) -> None:
        for act in acts:
            try:
                self._world.act(act)
            except ValueError as error:
                log.warning("the simulated kettle: %s", error)
