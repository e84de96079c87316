"""The composition root: a running service out of files. The only place that knows every room."""

from __future__ import annotations

import asyncio
import hmac
import logging
import platform
import signal
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator, Mapping, Sequence
from contextlib import asynccontextmanager, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeVar

from kettlebridge import __version__
from kettlebridge.bridges import BridgeFactory, bridge_of
from kettlebridge.core.forecast import forecast
from kettlebridge.core.snapshot import snapshot
from kettlebridge.core.state import State, initial
from kettlebridge.core.tick import tick
from kettlebridge.core.validation import misfits
from kettlebridge.documents.misfits import misfit
from kettlebridge.documents.refusals import refused
from kettlebridge.documents.trend_words import trend_words
from kettlebridge.files.kettle_file import KettleFile
from kettlebridge.files.library import FolderLibrary
from kettlebridge.files.local_time import ZoneTime, utc_stamp
from kettlebridge.files.unattended import against_arming
from kettlebridge.journal.queries import SqliteRecords
from kettlebridge.journal.store import SqliteJournal, open_journal
from kettlebridge.model.errors import KettlebridgeError, OperatorError
from kettlebridge.model.ids import BatchId, KettleId
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.plan import NOTHING_CHOSEN, Plan, Profile
from kettlebridge.ports import BatchHeader, Clock, Commands, Publisher, Records
from kettlebridge.runtime.carried_over import carried_over, left_over, trends_in
from kettlebridge.runtime.commands import KettleCommands
from kettlebridge.runtime.control_socket import ControlSocket
from kettlebridge.runtime.fan_out import FanOut
from kettlebridge.runtime.fold import Core
from kettlebridge.runtime.inbox import KettleInbox
from kettlebridge.runtime.keeper import Charge, Keeper, Rooms
from kettlebridge.runtime.service_manager import ServiceManager, keep_told
from kettlebridge.runtime.stuck_guard import Guard, Guards, NoGuard
from kettlebridge.runtime.traces import TraceBook
from kettlebridge.runtime.vital_tasks import VitalTasks
from kettlebridge.web.server import Address, Listener, listening, serve_page
from kettlebridge.web.surroundings import Surroundings

log = logging.getLogger(__name__)

JOURNAL_NAME = "journal.sqlite"
SOCKET_NAME = "control.sock"
ENDING_SIGNALS = (signal.SIGINT, signal.SIGTERM)

NO_GUARD = NoGuard()
CORE = Core(initial=initial, tick=tick, snapshot=snapshot, forecast=forecast)

T = TypeVar("T")


class NothingToBrewError(OperatorError):
    """A kettle has neither an unfinished batch nor a profile, and there is no page to choose one on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Assignment:
    """A kettle, and the profile to begin with where the record holds no unfinished batch of it; None: to be chosen."""

    file: KettleFile
    profile: Profile | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """What a service stands in. `folder` holds the record and the control socket; it is made if need be.

    `page`: where to serve one, None for none; `note` says what stands on it. `hurried`: the clock is faster than life.
    `recipes` and `profiles` are folders that the page chooses from; without profiles it begins nothing else.
    `manager` is told how the service does, where somebody wants to hear it.
    """

    clock: Clock
    folder: Path
    time: ZoneTime
    bridges: BridgeFactory = bridge_of
    guard: Guard = NO_GUARD
    listeners: Sequence[Publisher] = ()
    page: Address | None = None
    note: Callable[[], str] = str
    hurried: bool = False
    recipes: tuple[Path, ...] = ()
    profiles: tuple[Path, ...] = ()
    manager: ServiceManager | None = None


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Doors:
    """The ways in for people."""

    socket: ControlSocket
    page: Listener | None
    around: Surroundings


async def run_service(
    assignments: Sequence[Assignment], setting: Setting, body: Callable[[Service], Awaitable[T]]
) -> T:
    """Runs the kettles for as long as `body` lasts; then all outputs are off and the record is closed.

    Raises JournalError, or OperatorError: the folder, its socket or the page's port cannot be used, or a kettle has
    nothing to brew.
    """
    _make_folder(setting.folder)
    journal = open_journal(setting.folder / JOURNAL_NAME, gate=setting.clock.gate("journal"), program=__version__)
    stop = asyncio.Event()
    with _signals(stop), listening(setting.page, setting.folder) as page:
        async with journal:
            service = _service(assignments, setting, journal, stop)
            if page is not None:
                service = replace(service, page_url=page.url)
            try:
                async with _told(setting, service.vital):
                    return await _running(service, _doors(assignments, setting, service, page), body)
            except BaseExceptionGroup as group:
                raise _the_expected(group) from None


@asynccontextmanager
async def _told(setting: Setting, vital: VitalTasks) -> AsyncIterator[None]:
    """Whoever manages this process hears of it meanwhile."""
    if setting.manager is None:
        yield
        return
    telling = asyncio.create_task(keep_told(setting.manager, vital, setting.clock), name="service manager")
    try:
        yield
    finally:
        telling.cancel()
        await asyncio.wait({telling})


async def _running(service: Service, doors: Doors, body: Callable[[Service], Awaitable[T]]) -> T:
    listens, page_ends = asyncio.Event(), asyncio.Event()
    async with asyncio.TaskGroup() as group:
        socket = group.create_task(doors.socket.serve(listens.set), name="control socket")
        await listens.wait()
        if doors.page is not None:
            group.create_task(serve_page(doors.page, doors.around, page_ends), name="page")
        keepers = [group.create_task(keeper.run(), name=f"{name}: keeper") for name, keeper in service.keepers.items()]
        try:
            return await body(service)
        finally:
            for keeper in keepers:
                keeper.cancel()
            if keepers:
                await asyncio.wait(keepers)  # they answer who still waits, and socket and page pass it on
            socket.cancel()
            page_ends.set()


def _service(
    assignments: Sequence[Assignment], setting: Setting, journal: SqliteJournal, stop: asyncio.Event
) -> Service:
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


class Opener:
    """Makes the header of a kettle's next batch; `profile` is what it will be, None: it waits for a choice."""

    def __init__(self, assignment: Assignment, time: ZoneTime, records: Records) -> None:
        self.kettle = assignment.file.kettle
        self.against_arming = against_arming(assignment.file)
        self.profile = assignment.profile
        self._time = time
        self._records = records

    def opened(self, at_utc_s: float) -> BatchHeader:
        """At a wall time."""
        kettle, profile = self.kettle, self.profile or NOTHING_CHOSEN
        for trend in trends_in(self._records, kettle.name) if profile.steps else ():
            log.warning("kettle %s: %s", kettle.name, trend_words(trend))
        ready_at_utc_s = None if profile.ready_at is None else self._time.next_at(profile.ready_at, at_utc_s).at_utc_s
        return BatchHeader(
            batch=_batch_id(kettle.name, at_utc_s, {known.batch for known in self._records.batches()}),
            kettle=kettle.name,
            plan=Plan(
                kettle=kettle,
                profile=profile,
                ready_at_utc_s=ready_at_utc_s,
                learnt=carried_over(self._records, kettle) if profile.steps else None,
                against_arming=self.against_arming,
                left_over=left_over(self._records, kettle.name),
            ),
            started_utc_s=at_utc_s,
            program=__version__,
            python=platform.python_version(),
        )


NOT_RECORDED = (
    "The record cannot be written: the batch in it cannot be closed, nor the next one opened. Nothing was changed. "
    "See whether the disk is full, then try again."
)


class NextInLine:
    """What is brewed next in each kettle."""

    def __init__(self, keepers: Mapping[KettleId, Keeper[State]], openers: Mapping[KettleId, Opener]) -> None:
        self._keepers = keepers
        self._openers = openers

    def kettle(self, kettle: KettleId) -> Kettle:
        """The kettle of that name as its file has it."""
        return self._openers[kettle].kettle

    def prepare(self, kettle: KettleId, profile: Profile) -> str | None:
        """Opens a batch of `profile`, not begun, in place of one that is over or never was; else says why not."""
        opener, keeper = self._openers[kettle], self._keepers[kettle]
        reasons = misfits(opener.kettle, profile)
        if reasons:
            return f"This does not fit {kettle}: " + "; ".join(misfit(one.code, one.values) for one in reasons) + "."
        if profile.ready_at is not None and opener.against_arming:
            words = refused(opener.against_arming[0])
            return f"It is to be ready at a time, with nobody there. {words.why} {words.do}"
        if not keeper.free:
            return "A batch is at work in it: end that one first."
        if not keeper.begin_anew():
            return NOT_RECORDED
        opener.profile = profile
        log.info("kettle %s: the next batch is %s", kettle, profile.name)
        return None


def _batch_id(kettle: KettleId, at_utc_s: float, taken: set[BatchId]) -> BatchId:
    """Named after kettle and start; numbered where a clock that was set back makes that a name already taken."""
    stem = f"{kettle}-{utc_stamp(at_utc_s)}"
    names = (BatchId(stem if number == 1 else f"{stem}-{number}") for number in range(1, len(taken) + 2))
    return next(name for name in names if name not in taken)


def _doors(assignments: Sequence[Assignment], setting: Setting, service: Service, page: Listener | None) -> Doors:
    codes = {assignment.file.kettle.name: assignment.file.code for assignment in assignments}

    def at_kettle(kettle: KettleId, code: str) -> bool:
        posted = codes.get(kettle)
        return posted is not None and hmac.compare_digest(posted.encode(), code.encode())

    around = Surroundings(
        kettles=tuple(service.keepers),
        commands=service.commands,
        snapshots=service.snapshots,
        records=service.records,
        traces=service.traces,
        time=setting.time,
        at_kettle=at_kettle,
        library=FolderLibrary(setting.recipes, setting.profiles),
        next_batches=service.next_batches if setting.profiles else None,
        note=setting.note,
        hurried=setting.hurried,
    )
    socket = ControlSocket(setting.folder / SOCKET_NAME, service.commands, service.snapshots, at_kettle)
    return Doors(socket=socket, page=page, around=around)


def _make_folder(folder: Path) -> None:
    """The record is its owner's alone."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise OperatorError(f"{folder}: cannot be made: {error.strerror}") from error


@contextmanager
def _signals(stop: asyncio.Event) -> Iterator[None]:
    """An ending signal sets `stop`. Further ones change nothing: an end in haste would leave outputs to their lease."""
    loop = asyncio.get_running_loop()

    def stopping(name: str) -> None:
        log.info("%s: %s", name, "closing already" if stop.is_set() else "all outputs off, closing")
        stop.set()

    for number in ENDING_SIGNALS:
        loop.add_signal_handler(number, stopping, number.name)
    try:
        yield
    finally:
        for number in ENDING_SIGNALS:
            loop.remove_signal_handler(number)


def _the_expected(group: BaseExceptionGroup) -> BaseException:
    """What was raised on purpose is raised as itself where it is all there is; anything else stays as it came."""
    expected, others = group.split(KettlebridgeError)
    if others is not None or expected is None:
        return group
    leaf: BaseException = expected
    while isinstance(leaf, BaseExceptionGroup):
        leaf = leaf.exceptions[0]
    return leaf


def records_in(folder: Path) -> Records:
    """The record of the service in `folder`, to be read; it need not be there yet."""
    return SqliteRecords(folder / JOURNAL_NAME, program=__version__)
