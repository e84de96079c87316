"""What the rooms ask of one another: Protocols only."""

from __future__ import annotations

from collections.abc import AsyncIterator, Iterator
from dataclasses import dataclass
from enum import Enum
from typing import Protocol

from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import Command
from kettlebridge.model.demand import Demand
from kettlebridge.model.errors import LinkReason
from kettlebridge.model.event import Event
from kettlebridge.model.fermentation import FermentReading, ProbeReading
from kettlebridge.model.ids import BatchId, KettleId
from kettlebridge.model.inputs import Inputs
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.plan import Plan, Profile
from kettlebridge.model.reason import Reason
from kettlebridge.model.recipe import Recipe
from kettlebridge.model.sample import BoardReport, Sample
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.model.trace import Span, Trace


class Gate(Protocol):
    """Counts work in flight that accelerated time must wait for. On a real clock it does nothing."""

    def shut(self, count: int = 1) -> None:
        """`count` more pieces of work (bytes, rows) are under way."""

    def open(self, count: int = 1) -> None:
        """`count` of them are done."""


class Clock(Protocol):
    """The only time there is for runtime, drivers and simulated boards."""

    def now_s(self) -> float:
        """Monotonic, counts through suspend."""

    def at_utc_s(self) -> float:
        """Wall time, seconds since 1970-01-01T00:00Z."""

    def synchronised(self) -> bool:
        """Whether a time service holds the wall time."""

    async def sleep_until(self, when_s: float) -> None:
        """Returns once `now_s() >= when_s`."""

    def gate(self, name: str) -> Gate:
        """The gate called `name`, the same one for the same name."""


class LocalTime(Protocol):
    """The brewer's own clock on the wall."""

    def hh_mm(self, at_utc_s: float) -> str:
        """That instant as local "HH:MM"."""

    def date_hh_mm(self, at_utc_s: float) -> str:
        """That instant as local "YYYY-MM-DD HH:MM"."""


class Inbox(Protocol):
    """Where a bridge puts what it hears; never waits, bounded, the newest kept."""

    def linked(self) -> None:
        """A session with the board is alive."""

    def link_lost(self, reason: LinkReason, detail: str) -> None:
        """The session ended or could not be had."""

    def hear(self, samples: tuple[Sample, ...], report: BoardReport | None) -> None:
        """One frame's worth; a change of a safety input or an output wakes the tick at once."""


class Bridge(Protocol):
    """One board on one wire."""

    async def run(self, inbox: Inbox) -> None:
        """Opens, claims, and serves one session until cancelled. Raises LinkError when it is lost or refused."""

    def offer(self, demands: tuple[Demand, ...]) -> None:
        """Takes what a finished tick wants into a latest-value slot; never waits. Empty: nothing is sent."""

    def all_off(self) -> None:
        """Tells the board to drop every output at once, if the wire stands; never waits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchHeader:
    """What a batch's record opens with. `program` and `python` are versions, `started_utc_s` wall time of time 0."""

    batch: BatchId
    kettle: KettleId
    plan: Plan
    started_utc_s: float
    program: str
    python: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TickEntry:
    """One tick in the record. `n` counts from 0 without gaps in a batch; `urgent` asks for a commit at once."""

    batch: BatchId
    n: int
    inputs: Inputs
    events: tuple[Event, ...]
    urgent: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class JournalHealth:
    """`failing_why` is None while all is well; `unwritten` rows wait, the oldest for `waiting_s`.

    `writer_late_s`: for how long the writer, and not the disk it waits for, has left something lying.
    """

    failing_why: str | None
    unwritten: int
    waiting_s: float
    writer_late_s: float = 0.0


class Journal(Protocol):
    """The writing side of the record. One writer thread; demands never wait for it."""

    async def begin(self, header: BatchHeader) -> None:
        """Opens a batch's record; on disk when it returns. Raises JournalError."""

    def record(self, entry: TickEntry) -> None:
        """Queues an entry; never waits. A full queue is told by `health` and drops nothing already queued."""

    async def settled(self, batch: BatchId, n: int) -> bool:
        """Waits until tick `n` is on disk; False when it could not be written."""

    async def end(self, batch: BatchId, state: BatchState) -> None:
        """Closes a batch's record as ended in `state`."""

    def health(self) -> JournalHealth:
        """How the record stands now."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchSummary:
    """A batch in a list. `ended` is None while it is open; `incomplete_from` is the first tick that was lost."""

    batch: BatchId
    kettle: KettleId
    profile: str
    started_utc_s: float
    ended: BatchState | None
    ticks: int
    incomplete_from: int | None = None


class Records(Protocol):
    """The reading side of the record. Raises JournalError."""

    def batches(self) -> tuple[BatchSummary, ...]:
        """All batches, newest first."""

    def header(self, batch: BatchId) -> BatchHeader:
        """What the batch's record opened with."""

    def ticks(self, batch: BatchId) -> Iterator[tuple[int, Inputs]]:
        """Every journalled tick in order."""

    def events(self, batch: BatchId) -> Iterator[tuple[int, Event]]:
        """Every event in order, with the number of its tick."""

    def unfinished(self, kettle: KettleId) -> BatchId | None:
        """The batch of `kettle` that was begun and not ended, if there is one."""


class FermentationRecords(Records, Protocol):
    """The same with what came after the batch was over in its kettle. Raises JournalError."""

    def fermentation(self, batch: BatchId) -> tuple[FermentReading, ...]:
        """What was measured in the fermenter, in the order of time."""

    def fermenter(self, batch: BatchId) -> tuple[ProbeReading, ...]:
        """What a probe told from the fermenter, in the order of time."""

    def packaged_utc_s(self, batch: BatchId) -> float | None:
        """When the beer of a batch was packaged, None while it was not."""


class FermentationJournal(Protocol):
    """The writing side of that. On disk when a method returns. Raises JournalError: no such batch, or no disk."""

    def add_reading(self, batch: BatchId, reading: FermentReading) -> None:
        """A gravity was measured by hand."""

    def add_probe_reading(self, batch: BatchId, reading: ProbeReading) -> None:
        """A probe told something."""

    def set_packaged(self, batch: BatchId, at_utc_s: float) -> None:
        """The beer was packaged: no probe's reading belongs to it any more. Said again, it was then."""


class Library(Protocol):
    """The recipes that are at hand."""

    def recipes(self) -> tuple[str, ...]:
        """Their names, in their order; files that cannot be read are left out."""

    def recipe(self, name: str) -> Recipe | None:
        """The one of that name, None where there is none any more."""

    def profiles(self) -> tuple[str, ...]:
        """The names of the profiles, as of the recipes."""

    def profile(self, name: str) -> Profile | None:
        """The one of that name, None where there is none any more."""


class NotNextCode(Enum):
    """Why a batch cannot be the next one."""

    MISFITS = "misfits"
    NEVER_ARMED = "never_armed"
    AT_WORK = "at_work"
    NOT_RECORDED = "not_recorded"


@dataclass(frozen=True, slots=True, kw_only=True)
class NotNext:
    """Why nothing was prepared. `reasons`: each misfit of the profile, or what keeps the kettle from being armed."""

    code: NotNextCode
    reasons: tuple[Reason, ...] = ()


class NextBatches(Protocol):
    """What is brewed next."""

    def kettle(self, kettle: KettleId) -> Kettle:
        """The kettle of that name as its file has it."""

    def prepare(self, kettle: KettleId, profile: Profile) -> NotNext | None:
        """Opens a batch of `profile`, not begun, in place of one that is over or never was; else says why not."""


class Publisher(Protocol):
    """Somebody who is told of every tick: never waits, never raises."""

    def publish(self, snapshot: Snapshot, events: tuple[Event, ...]) -> None:
        """A finished tick."""


class Snapshots(Protocol):
    """The newest view of every kettle."""

    def latest(self, kettle: KettleId) -> Snapshot | None:
        """None until the first tick."""

    def stream(self, kettle: KettleId) -> AsyncIterator[Snapshot]:
        """The newest snapshot again and again as it changes; slow readers miss some, never the last."""


class Traces(Protocol):
    """The course of batches, at work or over."""

    async def of(self, batch: BatchId) -> Trace:
        """The course of a batch so far. Raises JournalError."""

    def spans(self, batch: BatchId) -> tuple[Span, ...]:
        """The steps of a batch at work as far as they are known without reading anything."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What became of a command. `refused` is a reason code; `recorded` says that the record of it is on disk."""

    refused: str | None
    n: int
    recorded: bool


class Commands(Protocol):
    """The way in for every command."""

    async def submit(self, kettle: KettleId, command: Command) -> Verdict:
        """Hands the command to the kettle's next tick and waits for what it made of it. Idempotent by id."""
