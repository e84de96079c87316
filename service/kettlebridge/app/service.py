"""A service out of its kettles, its setting and an open journal: every part made, none of them running."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from kettlebridge.app.next_batches import NextInLine, Opener
from kettlebridge.app.record import CORE
from kettlebridge.app.setting import Assignment, Setting
from kettlebridge.core.state import State
from kettlebridge.journal.store import SqliteJournal
from kettlebridge.model.errors import OperatorError
from kettlebridge.model.ids import BatchId, KettleId
from kettlebridge.ports import Commands, Records
from kettlebridge.runtime.commands import KettleCommands
from kettlebridge.runtime.fan_out import FanOut
from kettlebridge.runtime.inbox import KettleInbox
from kettlebridge.runtime.keeper import Charge, Keeper, Rooms
from kettlebridge.runtime.stuck_guard import Guards
from kettlebridge.runtime.traces import TraceBook
from kettlebridge.runtime.vital_tasks import VitalTasks


class NothingToBrewError(OperatorError):
    """A kettle has neither an unfinished batch nor a profile, and there is no page to choose one on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Service:
    """A service at work. `recovered` are the batches that were found unfinished; `stop` is set by a signal.

    `page_url` is where its page is, None without one. `vital` watches the tasks that all of it hangs on.
    """

    commands: Commands
    snapshots: FanOut
    records: Records
    traces: TraceBook[State]
    keepers: Mapping[KettleId, Keeper[State]]
    recovered: Mapping[KettleId, BatchId]
    stop: asyncio.Event
    vital: VitalTasks
    next_batches: NextInLine
    page_url: str | None = None


def built(assignments: Sequence[Assignment], setting: Setting, journal: SqliteJournal, stop: asyncio.Event) -> Service:
    """All of it. Raises NothingToBrewError: a kettle has no profile, and there is no page to choose one on."""
    kettles = [assignment.file.kettle.name for assignment in assignments]
    found = {kettle: journal.records.unfinished(kettle) for kettle in kettles}
    recovered = {kettle: batch for kettle, batch in found.items() if batch is not None}
    for assignment in assignments if setting.page is None or not setting.profiles else ():
        if assignment.profile is None and assignment.file.kettle.name not in recovered:
            name = assignment.file.kettle.name
            raise NothingToBrewError(
                f"kettle {name}: there is no unfinished batch, and no page to choose one on; it needs a profile"
            )
    inboxes = {kettle: KettleInbox(kettle, setting.clock) for kettle in kettles}
    traces = TraceBook(CORE, journal.records)
    snapshots = FanOut((traces, *setting.listeners))
    vital = VitalTasks(kettles, setting.clock, journal.health)
    rooms = Rooms(
        clock=setting.clock,
        core=CORE,
        journal=journal,
        records=journal.records,
        publisher=snapshots,
        guard=Guards(setting.guard, vital),
    )
    keepers, openers = {}, {}
    for assignment in assignments:
        name = assignment.file.kettle.name
        opener = openers[name] = Opener(assignment, setting.time, journal.records)
        charge = Charge(
            inbox=inboxes[name],
            bridge=setting.bridges(assignment.file, setting.clock),
            new_batch=opener.opened,
            grant=_all_its_power,
        )
        keepers[name] = Keeper(name, rooms, charge)
    return Service(
        commands=KettleCommands(inboxes),
        snapshots=snapshots,
        records=journal.records,
        traces=traces,
        keepers=keepers,
        recovered=recovered,
        stop=stop,
        vital=vital,
        next_batches=NextInLine(keepers, openers),
    )


def _all_its_power() -> float:
    """The grant of a circuit: files.supply refused kettles that could overload one together."""
    return 1.0
