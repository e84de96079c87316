"""Events as lines of text, as they happen."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from kettlebridge.documents.events import line
from kettlebridge.model.event import Event
from kettlebridge.model.ids import BatchId
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.plan import NOTHING_CHOSEN, Plan
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.ports import Records

Say = Callable[[Snapshot, str], None]


class EventLines:
    """A publisher that words each event and hands it to `say`; what no person need be told is left out.

    `kettles` are those that may have nothing chosen to brew: no record tells of them then.
    """

    def __init__(self, records: Records, say: Say, kettles: Sequence[Kettle] = ()) -> None:
        self._records = records
        self._say = say
        self._waiting = {kettle.name: Plan(kettle=kettle, profile=NOTHING_CHOSEN) for kettle in kettles}
        self._plans: dict[BatchId, Plan] = {}

    def publish(self, snapshot: Snapshot, events: tuple[Event, ...]) -> None:
        """One line an event, at most."""
        for event in events:
            words = line(event, snapshot, self.plan_of(snapshot))
            if words is not None:
                self._say(snapshot, words)

    def plan_of(self, snapshot: Snapshot) -> Plan:
        """The plan of the batch, which its record opened with. Raises JournalError."""
        if snapshot.nothing_chosen:
            return self._waiting[snapshot.kettle]
        if snapshot.batch not in self._plans:
            self._plans = {snapshot.batch: self._records.header(snapshot.batch).plan} | self._plans
        return self._plans[snapshot.batch]
