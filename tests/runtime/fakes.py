"""A kettle's surroundings in memory: a core that decides almost nothing, a bridge, a journal."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable, Coroutine, Iterator
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass, field
from typing import NamedTuple

from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import Command, CommandKind
from kettlebridge.model.demand import Demand, Output
from kettlebridge.model.errors import JournalError, LinkError, LinkReason
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.forecast import Forecast
from kettlebridge.model.ids import BatchId, CommandId, KettleId, ProbeName
from kettlebridge.model.inputs import Inputs
from kettlebridge.model.kettle import ChillWay, HeaterDrive, Kettle, Safety
from kettlebridge.model.plan import Plan, Profile, Water
from kettlebridge.model.reading import BoardInput, BoardState
from kettlebridge.model.sample import BoardReport, Sample
from kettlebridge.model.snapshot import OutputsView, Snapshot
from kettlebridge.ports import BatchHeader, BatchSummary, Inbox, JournalHealth, TickEntry
from kettlebridge.runtime.clock import PacedClock
from kettlebridge.runtime.fan_out import FanOut
from kettlebridge.runtime.fold import Core
from kettlebridge.runtime.inbox import KettleInbox
from kettlebridge.runtime.keeper import Charge, Keeper, Rooms
from kettlebridge.runtime.loop import TickLoop, Wires
from kettlebridge.runtime.recovery import Standing

COPPER = KettleId("copper")
COPPER_1 = BatchId("copper-1")
MASH = ProbeName("mash")
START_UTC_S = 1_700_000_000.0


def kettle(name: KettleId = COPPER) -> Kettle:
    return Kettle(
        name=name,
        capacity_l=30.0,
        heater_w=2500.0,
        mains_v=230.0,
        boil_c=100.0,
        element_cover_l=4.0,
        under_basket_l=3.0,
        loss_w_per_k=2.0,
        boil_off_l_per_h=3.0,
        dead_space_l=1.0,
        grain_absorption_l_per_kg=0.9,
        basket_kg=1.5,
        probe_delay_s=10.0,
        chill=ChillWay.IN_KETTLE,
        drive=HeaterDrive.SSR,
        has_pump=True,
        has_main_contactor=True,
        probes=(),
        inputs=BoardInput.NONE,
        safety=Safety(limit_c=103.0),
    )


def plan(name: KettleId = COPPER) -> Plan:
    return Plan(kettle=kettle(name), profile=Profile(name="pale ale", water=Water(fill_l=20.0), steps=()))


def header(name: KettleId = COPPER, *, started_utc_s: float = START_UTC_S) -> BatchHeader:
    return BatchHeader(
        batch=BatchId(f"{name}-1"),
        kettle=name,
        plan=plan(name),
        started_utc_s=started_utc_s,
        program="0",
        python="3",
    )


def command(kind: CommandKind, name: str = "c1") -> Command:
    return Command(id=CommandId(name), kind=kind, who="brewer")


def sample(value_c: float | None, taken_s: float, probe: ProbeName = MASH) -> Sample:
    return Sample(probe=probe, value_c=value_c, taken_s=taken_s)


def report(taken_s: float = 0.0, *, heater_permille: int = 0, inputs: BoardInput = BoardInput.NONE) -> BoardReport:
    board = BoardState(
        acted_on=int(taken_s * 1000),
        heater_permille=heater_permille,
        heater_on_ms=0,
        pump_on=False,
        main_contactor_closed=False,
        lease_left_s=0.0,
        inputs=inputs,
    )
    return BoardReport(board=board, taken_s=taken_s)


def demands(permille: int) -> tuple[Demand, ...]:
    return (Demand(output=Output.HEATER, permille=permille, ttl_ms=3000, acted_on=0),)


@dataclass(frozen=True, slots=True, kw_only=True)
class FakeState:
    """What FakeCore remembers."""

    n: int
    now_s: float
    at_utc_s: float
    batch: BatchState


class FakeTicked(NamedTuple):
    """What FakeCore decides."""

    state: FakeState
    demands: tuple[Demand, ...]
    events: tuple[Event, ...]


RESULTS = {
    CommandKind.START: BatchState.RUNNING,
    CommandKind.CARRY_ON: BatchState.RUNNING,
    CommandKind.HOLD: BatchState.HELD,
    CommandKind.STOP_HEAT: BatchState.ABORTED,
    CommandKind.STOP: BatchState.STOPPED,
}


class FakeCore:
    """Heats while Running. SKIP is refused. `failures` ticks to come raise; `inputs` is what every tick was given."""

    def __init__(self) -> None:
        self.inputs: list[Inputs] = []
        self.failures = 0
        self.foretells: Callable[[FakeState], Forecast | None] = lambda state: None
        self.core = Core(initial=self.initial, tick=self.tick, snapshot=self.snapshot, forecast=self.forecast)

    def initial(self, _plan: Plan) -> FakeState:
        return FakeState(n=0, now_s=0.0, at_utc_s=0.0, batch=BatchState.IDLE)

    def tick(self, _plan: Plan, state: FakeState, inputs: Inputs) -> FakeTicked:
        self.inputs.append(inputs)
        if self.failures:
            self.failures -= 1
            raise ZeroDivisionError("a bug in the core")
        batch = state.batch
        events: list[Event] = []
        if inputs.resumed is not None:
            batch = BatchState.HELD
            events.append(Event(code=EventCode.RESUMED, values=(("away_s", inputs.resumed.away_s),)))
        for told in inputs.commands:
            if told.kind is CommandKind.SKIP:
                values = (("command", told.id), ("kind", told.kind.value), ("reason", "no_step"))
                events.append(Event(code=EventCode.COMMAND_REFUSED, values=values))
                continue
            batch = RESULTS.get(told.kind, batch)
            events.append(Event(code=EventCode.COMMAND_TAKEN, values=(("command", told.id), ("kind", told.kind.value))))
        after = FakeState(n=state.n + 1, now_s=inputs.now_s, at_utc_s=inputs.at_utc_s, batch=batch)
        return FakeTicked(after, demands(1000 if batch is BatchState.RUNNING else 0), tuple(events))

    def forecast(self, plan_: Plan, state: FakeState) -> Forecast | None:
        return self.foretells(state)

    def snapshot(self, plan_: Plan, batch: BatchId, state: FakeState) -> Snapshot:
        return snapshot(state.n, name=plan_.kettle.name, batch=batch, state=state.batch, now_s=state.now_s)


def snapshot(
    n: int,
    *,
    name: KettleId = COPPER,
    batch: BatchId = COPPER_1,
    state: BatchState = BatchState.RUNNING,
    now_s: float = 0.0,
) -> Snapshot:
    return Snapshot(
        kettle=name,
        batch=batch,
        profile="pale ale",
        n=n,
        now_s=now_s,
        at_utc_s=START_UTC_S + now_s,
        state=state,
        hold_cause=None,
        temperature_c=None,
        step=None,
        calls=(),
        probes=(),
        outputs=OutputsView(
            heater_duty_fraction=0.0,
            heater_permille=0,
            pump_on=False,
            main_contactor_on=False,
            board_heater_permille=None,
            board_pump_on=None,
            board_main_contactor_closed=None,
        ),
        alarms=(),
        linked=False,
        volume_l=None,
        energy_kwh=0.0,
        recorded=True,
    )


class FakeBridge:
    """Logs what it is told. Each session of `sessions` lasts so many seconds, the last one for ever; then it is lost.

    A number below 0 refuses the session, an exception is raised in it after a second.
    """

    def __init__(self, clock: PacedClock, log: list[str] | None = None) -> None:
        self.log: list[str] = [] if log is None else log
        self.offers: list[tuple[float, int]] = []
        self.offs_s: list[float] = []
        self.tries_s: list[float] = []
        self.sessions: list[float | Exception] = []
        self.standing = False
        self._clock = clock

    async def run(self, inbox: Inbox) -> None:
        self.tries_s.append(self._clock.now_s())
        lasts = self.sessions.pop(0) if self.sessions else None
        if isinstance(lasts, float) and lasts < 0:
            raise LinkError(LinkReason.NO_PORT, "/dev/absent")
        inbox.linked()
        self.standing = True
        try:
            if lasts is None:
                await asyncio.get_running_loop().create_future()
            if isinstance(lasts, Exception):
                await self._clock.sleep_until(self._clock.now_s() + 1.0)
                raise lasts
            if lasts is not None:
                await self._clock.sleep_until(self._clock.now_s() + lasts)
            raise LinkError(LinkReason.LOST, "hung up")
        finally:
            self.standing = False

    def offer(self, demands: tuple[Demand, ...]) -> None:
        self.log.append("offer")
        self.offers.append((self._clock.now_s(), demands[0].permille))

    def all_off(self) -> None:
        self.log.append(f"all off, {'wire stands' if self.standing else 'no wire'}")
        self.offs_s.append(self._clock.now_s())


@dataclass
class FakeJournal:
    """The record in memory: Journal and Records in one. A tick is on disk `lag_s` after it was recorded."""

    clock: PacedClock
    lag_s: float = 0.0
    writes: bool = True
    failing_why: str | None = None
    log: list[str] = field(default_factory=list)
    headers: dict[BatchId, BatchHeader] = field(default_factory=dict)
    entries: list[TickEntry] = field(default_factory=list)
    ends: dict[BatchId, BatchState] = field(default_factory=dict)
    refuse_begin: bool = False
    incomplete_from: int | None = None

    async def begin(self, header: BatchHeader) -> None:
        if self.refuse_begin:
            raise JournalError("the disk is full")
        self.headers[header.batch] = header

    def record(self, entry: TickEntry) -> None:
        self.log.append("record")
        self.entries.append(entry)

    async def settled(self, batch: BatchId, n: int) -> bool:
        await self.clock.sleep_until(self.clock.now_s() + self.lag_s)
        return self.writes

    async def end(self, batch: BatchId, state: BatchState) -> None:
        self.ends[batch] = state

    def health(self) -> JournalHealth:
        return JournalHealth(failing_why=self.failing_why, unwritten=0, waiting_s=0.0)

    def batches(self) -> tuple[BatchSummary, ...]:
        return tuple(
            BatchSummary(
                batch=header.batch,
                kettle=header.kettle,
                profile=header.plan.profile.name,
                started_utc_s=header.started_utc_s,
                ended=self.ends.get(header.batch),
                ticks=len(self.entries),
                incomplete_from=self.incomplete_from,
            )
            for header in self.headers.values()
        )

    def header(self, batch: BatchId) -> BatchHeader:
        return self.headers[batch]

    def ticks(self, batch: BatchId) -> Iterator[tuple[int, Inputs]]:
        return ((entry.n, entry.inputs) for entry in self.entries if entry.batch == batch)

    def events(self, batch: BatchId) -> Iterator[tuple[int, Event]]:
        return ((entry.n, event) for entry in self.entries if entry.batch == batch for event in entry.events)

    def unfinished(self, kettle: KettleId) -> BatchId | None:
        open_ones = (one for one, header in self.headers.items() if header.kettle == kettle and one not in self.ends)
        return next(open_ones, None)


class FakeGuard:
    """Which kettles the guard was told of."""

    def __init__(self) -> None:
        self.ticks = 0
        self.gone: list[KettleId] = []

    def began(self, kettle: KettleId) -> None:
        assert kettle

    def finished(self, kettle: KettleId) -> None:
        self.ticks += 1

    def left(self, kettle: KettleId) -> None:
        self.gone.append(kettle)


class Watching:
    """A publisher that notes when it was told, and what."""

    def __init__(self, clock: PacedClock, log: list[str]) -> None:
        self.told: list[tuple[float, Snapshot]] = []
        self._clock = clock
        self._log = log

    def publish(self, snapshot: Snapshot, events: tuple[Event, ...]) -> None:
        self._log.append("publish")
        self.told.append((self._clock.now_s(), snapshot))

    @property
    def states(self) -> list[BatchState]:
        return [snapshot.state for _, snapshot in self.told]

    @property
    def times_s(self) -> list[float]:
        return [time_s for time_s, _ in self.told]


class Bench:
    """One kettle's loop or keeper with everything around it, all writing into one `log`."""

    def __init__(self, clock: PacedClock, name: KettleId = COPPER, journal: FakeJournal | None = None) -> None:
        self.clock = clock
        self.name = name
        self.log: list[str] = []
        self.fake = FakeCore()
        self.inbox = KettleInbox(name, clock)
        self.bridge = FakeBridge(clock, self.log)
        self.journal = journal or FakeJournal(clock, log=self.log)
        self.watching = Watching(clock, self.log)
        self.fan_out = FanOut([self.watching])
        self.guard = FakeGuard()
        self.ended: list[BatchState] = []

    def loop(self, standing: Standing[FakeState] | None = None) -> TickLoop[FakeState]:
        wires = Wires(
            clock=self.clock,
            inbox=self.inbox,
            bridge=self.bridge,
            journal=self.journal,
            publisher=self.fan_out,
            guard=self.guard,
            grant=lambda: 1.0,
        )
        fresh = Standing(header=header(self.name), state=self.fake.initial(plan(self.name)))
        return TickLoop(self.fake.core, wires, standing or fresh, self.ended.append)

    def keeper(self) -> Keeper[FakeState]:
        rooms = Rooms(
            clock=self.clock,
            core=self.fake.core,
            journal=self.journal,
            records=self.journal,
            publisher=self.fan_out,
            guard=self.guard,
        )
        charge = Charge(
            inbox=self.inbox,
            bridge=self.bridge,
            new_batch=lambda at_utc_s: header(self.name, started_utc_s=at_utc_s),
            grant=lambda: 1.0,
        )
        return Keeper(self.name, rooms, charge)


@asynccontextmanager
async def running(work: Coroutine[object, object, object]) -> AsyncIterator[asyncio.Task[object]]:
    """Runs `work` beside the body and ends it after it; what it raised before that is raised."""
    task = asyncio.create_task(work)
    try:
        yield task
    finally:
        task.cancel()
        with suppress(asyncio.CancelledError):
            await task


async def until(clock: PacedClock, condition: Callable[[], object]) -> None:
    """Lets virtual time run until `condition` holds; an hour is too long."""
    limit_s = clock.now_s() + 3600.0
    while not condition():
        assert clock.now_s() < limit_s, "never came true"
        await clock.sleep_until(clock.now_s() + 0.1)
