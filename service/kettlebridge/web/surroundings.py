"""What the web sees of the service: ports, and a few facts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from kettlebridge.model.errors import JournalError
from kettlebridge.model.ids import BatchId, KettleId
from kettlebridge.model.plan import Plan
from kettlebridge.ports import Commands, Library, LocalTime, NextBatches, Records, Snapshots, Traces

PLANS_KEPT = 16


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """`at_kettle` judges codes. `note` says what stands on every page. `hurried`: batch time runs faster than life.

    `next_batches` None: what is brewed is settled.
    """

    kettles: tuple[KettleId, ...]
    commands: Commands
    snapshots: Snapshots
    records: Records
    traces: Traces
    time: LocalTime
    at_kettle: Callable[[KettleId, str], bool]
    library: Library
    note: Callable[[], str] = str
    hurried: bool = False
    next_batches: NextBatches | None = None


class Plans:
    """Plans of batches, each read from its record once."""

    def __init__(self, records: Records) -> None:
        self._records = records
        self._plans: dict[BatchId, Plan] = {}

    def of(self, batch: BatchId) -> Plan | None:
        """None where the record cannot be read: the words are only fewer then."""
        if batch not in self._plans:
            try:
                self._plans[batch] = self._records.header(batch).plan
            except JournalError:
                return None
            for old in list(self._plans)[:-PLANS_KEPT]:
                del self._plans[old]
        return self._plans[batch]
