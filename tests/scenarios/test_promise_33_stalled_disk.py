"""Promise 33: a disk that hangs for 30 s changes nothing in how a kettle is driven; it is told, and nothing is lost.

The service is whole, over a pty; the writer's commit is what hangs. The journal counts the time of the paced clock
here, and that clock does not wait for it, as no real one would. A disk that fails or is full: tests/journal.
"""

from __future__ import annotations

import asyncio
import threading
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from kettlebridge import app
from kettlebridge.app import running
from kettlebridge.core.alarms import AlarmCause
from kettlebridge.core.promises import PROMISES
from kettlebridge.files.examples import config_folder
from kettlebridge.files.kettle_file import load_kettle
from kettlebridge.journal.queries import SqliteRecords
from kettlebridge.journal.store import SqliteJournal, open_journal
from kettlebridge.journal.work import Progress
from kettlebridge.journal.writer import Writer
from kettlebridge.model.alarm import PRESENT
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import Command, CommandKind
from kettlebridge.model.ids import CommandId, KettleId
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.ports import Gate, Verdict
from kettlebridge.runtime.clock import OpenGate, PacedClock, run_paced
from kettlesim.world import AddWater, World
from tests.scenarios.paced_day import RINSE, START_UTC_S, Day, Seen, Triple, Vessel

SPEED = 15.0
STALL_AT_S, STALL_S = 45.0, 30.0
STOP_AFTER_S = 25.0
AFTERWARDS_S = 15.0

pytestmark = pytest.mark.slow


class VirtualTime:
    """The event loop, as the journal knows it, with another clock."""

    def __init__(self, loop: asyncio.AbstractEventLoop, clock: PacedClock) -> None:
        self.time = clock.now_s
        self.create_future = loop.create_future
        self.call_soon_threadsafe = loop.call_soon_threadsafe


@dataclass(slots=True)
class Told:
    """`snapshots` with the clock's time; what came of "stop all heat", and how long it took."""

    stalled_s: float = 0.0
    snapshots: list[tuple[float, Snapshot]] = field(default_factory=list)
    verdict: Verdict | None = None
    verdict_after_s: float = 0.0
    stopped_s: float = 0.0


class StalledDay(Day):
    """The disk hangs while the kettle heats; in the end somebody stops all heat, before the disk is back."""

    def __init__(self, vessels: dict[str, Vessel], folder: Path, hangs: threading.Event, clock: PacedClock) -> None:
        super().__init__(vessels, folder)
        self.told = Told()
        self._hangs = hangs
        self._clock = clock

    async def _brew(self, service: app.Service, name: str, world: World) -> None:
        world.act(AddWater(RINSE.water.fill_l, 12.0))
        acting = asyncio.create_task(self._act(service, KettleId(name)), name="acts")
        watching = asyncio.create_task(self._look_on(service, KettleId(name)), name="looking on")
        await acting
        watching.cancel()
        await asyncio.wait({watching})

    async def _look_on(self, service: app.Service, kettle: KettleId) -> None:
        async for snapshot in service.snapshots.stream(kettle):
            self.told.snapshots.append((self._clock.now_s(), snapshot))

    async def _act(self, service: app.Service, kettle: KettleId) -> None:
        await self._say(service, kettle, CommandKind.START, CommandKind.CONFIRM)
        await self._clock.sleep_until(STALL_AT_S)
        self.told.stalled_s = self._clock.now_s()
        self._hangs.clear()
        await self._clock.sleep_until(STALL_AT_S + STOP_AFTER_S)
        stop = Command(id=CommandId("stop"), kind=CommandKind.STOP_HEAT, who="test")
        self.told.stopped_s = self._clock.now_s()
        self.told.verdict = await service.commands.submit(kettle, stop)
        self.told.verdict_after_s = self._clock.now_s() - self.told.stopped_s
        await self._clock.sleep_until(STALL_AT_S + STALL_S)
        self._hangs.set()
        await self._clock.sleep_until(STALL_AT_S + STALL_S + AFTERWARDS_S)

    async def _say(self, service: app.Service, kettle: KettleId, *kinds: CommandKind) -> None:
        """Each until it is taken: after a start a probe needs some seconds to be believed."""
        for kind in kinds:
            for number in range(30):
                command = Command(id=CommandId(f"{kind.value}.{number}"), kind=kind, who="test", at_kettle=True)
                if (await service.commands.submit(kettle, command)).refused is None:
                    break
                await self._clock.sleep_until(self._clock.now_s() + 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lived:
    """What came of it."""

    told: Told
    seen: Seen
    folder: Path


@pytest.fixture(scope="module")
def lived(tmp_path_factory: pytest.TempPathFactory) -> Lived:
    """One stall."""
    folder = tmp_path_factory.mktemp("state")
    goes_on = threading.Event()
    goes_on.set()
    commit = Writer._commit

    def waits(writer: Writer) -> Progress:
        goes_on.wait()
        return commit(writer)

    async def main(clock: PacedClock) -> StalledDay:
        virtual = VirtualTime(asyncio.get_running_loop(), clock)

        def here(journal: SqliteJournal) -> VirtualTime:
            journal._loop = virtual  # type: ignore[assignment]  # as much of a loop as a journal asks for
            return virtual

        patch.setattr(SqliteJournal, "_here", here)
        file = load_kettle(config_folder() / "kettles" / "thimble.toml")
        day = StalledDay({"thimble": Vessel(file=file, profile=RINSE)}, folder, goes_on, clock)
        await day.live(clock)
        return day

    def opened(path: Path, *, gate: Gate, program: str) -> SqliteJournal:
        assert gate is not None
        return open_journal(path, gate=OpenGate(), program=program)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Writer, "_commit", waits)
        patch.setattr(running, "open_journal", opened)
        day = run_paced(main, speed=SPEED, start_utc_s=START_UTC_S)
    return Lived(told=day.told, seen=day.seen["thimble"], folder=folder)


def _applied(lived: Lived, since_s: float, until_s: float) -> list[tuple[float, Triple]]:
    return [(at_s, triple) for at_s, triple in lived.seen.applied if since_s <= at_s < until_s]


def _not_recorded_s(lived: Lived) -> list[float]:
    """When the alarm was there."""
    return [
        at_s
        for at_s, snapshot in lived.told.snapshots
        if any(alarm.cause == AlarmCause.NOT_RECORDED.value and alarm.state in PRESENT for alarm in snapshot.alarms)
    ]


def test_the_kettle_is_driven_as_before_while_the_disk_hangs(lived: Lived) -> None:
    stalled_s = lived.told.stalled_s
    before = {triple for _, triple in _applied(lived, stalled_s - 5.0, stalled_s)}
    meanwhile = _applied(lived, stalled_s, stalled_s + STOP_AFTER_S)
    assert before == {(1000, False, True)}, "it did not heat: the stall shows nothing"
    assert {triple for _, triple in meanwhile} == before
    assert len(meanwhile) >= STOP_AFTER_S - 2
    states = {snapshot.state for at_s, snapshot in lived.told.snapshots if stalled_s <= at_s < lived.told.stopped_s}
    assert states == {BatchState.RUNNING}


def test_it_is_told_in_time_and_not_before(lived: Lived) -> None:
    (promise,) = [promise for promise in PROMISES if promise.id == 33]
    assert promise.within_s is not None
    first_s = _not_recorded_s(lived)[0]
    assert lived.told.stalled_s < first_s <= lived.told.stalled_s + promise.within_s


def test_stop_all_heat_waits_for_no_disk(lived: Lived) -> None:
    assert lived.told.verdict is not None
    assert lived.told.verdict.refused is None
    assert lived.told.verdict_after_s <= 1.0
    off_s = [at_s for at_s, triple in lived.seen.applied if at_s >= lived.told.stopped_s and not triple[0]]
    assert off_s[0] <= lived.told.stopped_s + 1.0


def test_once_the_disk_is_back_the_alarm_is_gone_and_every_tick_is_there(lived: Lived) -> None:
    assert _not_recorded_s(lived)[-1] <= STALL_AT_S + STALL_S + 5.0
    records = SqliteRecords(lived.folder / app.JOURNAL_NAME, program="test")
    (summary,) = records.batches()
    assert summary.incomplete_from is None
    numbers = [n for n, _ in records.ticks(summary.batch)]
    last = lived.told.snapshots[-1][1].n
    assert numbers == list(range(len(numbers)))
    assert len(numbers) >= last - 1
