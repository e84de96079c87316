"""Promises 28 and 54 over a real pty: a kettle is armed, and boards that must not be left alone are not."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path

import pytest

from kettlebridge.app import CORE, Assignment, Service, Setting, records_in, run_service
from kettlebridge.bridges import bridge_of
from kettlebridge.cli.exits import DONE
from kettlebridge.cli.main import main
from kettlebridge.documents.arming import ARMING_REFUSALS
from kettlebridge.files.examples import config_folder
from kettlebridge.files.kettle_file import load_kettle
from kettlebridge.files.local_time import zone_time
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import Command, CommandKind
from kettlebridge.model.ids import BatchId, CommandId, KettleId
from kettlebridge.model.plan import AskKind, AskStep, HeatStep, Profile, Water
from kettlebridge.model.reading import BoardInput
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.runtime.clock import PacedClock, run_paced
from kettlebridge.runtime.first_of import endless, first_of
from kettlebridge.runtime.replay import replay
from kettlebridge.simulated.board import simulated_board, wired_to
from kettlebridge.simulated.kettle import body_of
from kettlesim.acts import AddWater
from kettlesim.wire_serial.fittings import Cap, Input
from kettlesim.wire_serial.line import SerialBoard
from kettlesim.wire_serial.pins import Pin
from kettlesim.world import World

START_UTC_S = 1_800_001_200.0  # 2027-01-15 08:20 UTC
READY_S = 2400.0
FILL_L = 8.0
TO_C = 45.0
KETTLE = KettleId("thimble")
PROFILE = Profile(
    name="Early",
    water=Water(fill_l=FILL_L),
    steps=(
        AskStep(name="Fill", what=AskKind.FILL),
        HeatStep(name="Warm", to_c=TO_C, ready=True),
        AskStep(name="Empty", what=AskKind.EMPTY),
    ),
    ready_at="09:00",
)
pytestmark = pytest.mark.slow

AFTER_S = 8.0
COMES_S = 5.0
Trouble = Callable[[SerialBoard, str], None]
"""What befalls the board when an arming has come to a phase."""


def nothing(board: SerialBoard, phase: str) -> None:
    """All goes well."""


@dataclass(slots=True, kw_only=True)
class Evening:
    """One kettle whose brewer fills it, arms it, and goes to bed.

    `answers`: the test call is answered. `until` ends it. What is seen: the phases, why it is not armed, and the pins.
    """

    folder: Path
    trouble: Trouble = nothing
    answers: bool = True
    arms: bool = True
    until: Callable[[Evening, Snapshot], bool]
    phases: list[str] = field(default_factory=list)
    reason: str | None = None
    heated_at_s: float | None = None
    ended_s: float | None = None
    pins: dict[Pin, bool] = field(default_factory=dict)
    state: BatchState = BatchState.IDLE
    alarms: set[str] = field(default_factory=set)
    batch: BatchId | None = None
    warmed_c: float = 0.0
    told: list[CommandKind] = field(default_factory=list)

    async def live(self, clock: PacedClock) -> None:
        """Until it is over."""
        file = load_kettle(config_folder() / "kettles" / "thimble.toml")
        file = replace(file, kettle=replace(file.kettle, inputs=BoardInput.CONFIRM | BoardInput.STOP))
        world = World(body_of(file.kettle), seed=1, probe_offset_c=0.0)
        board = simulated_board(file, clock, world, seed=1)
        board.board.fittings = replace(board.board.fittings, cap=board.board.fittings.cap & ~Cap.SIMULATED)
        setting = Setting(clock=clock, folder=self.folder, time=zone_time("UTC"), bridges=bridge_of)
        assignment = Assignment(file=wired_to(board, file), profile=PROFILE)
        body = lambda service: self._spend(service, board, world)  # noqa: E731  # a closure over its board
        await first_of(run_service([assignment], setting, body), endless(board.run()))

    async def _spend(self, service: Service, board: SerialBoard, world: World) -> None:
        pressed: set[str] = set()
        async for seen in service.snapshots.stream(KETTLE):
            self._note(seen, board)
            if self.until(self, seen):
                self.pins = {pin: board.board.outputs.pins.is_on(pin) for pin in Pin}
                self.warmed_c = world.truth().bulk_c
                return
            if seen.state is BatchState.IDLE and seen.temperature_c is not None:
                await self._tell(service, CommandKind.START)
            for call in seen.calls:
                answered = call.subject == AskKind.FILL.value or call.kind == "evening_list" or self.answers
                if not answered or call.id in pressed or seen.now_s < (call.raised_s or 0.0) + COMES_S:
                    continue
                pressed.add(call.id)
                if call.subject == AskKind.FILL.value:
                    board.act(AddWater(litres=FILL_L, temp_c=14.0))
                board.press(Input.CONFIRM)
            if seen.arming is not None and self.arms and CommandKind.ARM not in self.told:
                await self._tell(service, CommandKind.ARM)

    async def _tell(self, service: Service, kind: CommandKind) -> None:
        if kind in self.told:
            return
        self.told.append(kind)
        command = Command(id=CommandId(f"{kind.value}.{len(self.told)}"), kind=kind, who="brewer", at_kettle=True)
        verdict = await service.commands.submit(KETTLE, command)
        assert verdict.refused is None

    def _note(self, seen: Snapshot, board: SerialBoard) -> None:
        self.state, self.batch = seen.state, seen.batch
        self.alarms |= {alarm.cause for alarm in seen.alarms}
        if seen.step is not None and seen.step.stage == "heat" and self.heated_at_s is None:
            self.heated_at_s = seen.now_s
        if seen.arming is None:
            return
        if seen.arming.phase not in self.phases[-1:]:
            self.phases.append(seen.arming.phase)
            self.trouble(board, seen.arming.phase)
        if seen.arming.reason is not None and self.ended_s is None:
            self.reason, self.ended_s = seen.arming.reason, seen.now_s


def refused(evening: Evening, seen: Snapshot) -> bool:
    """Some seconds after the arming ended."""
    assert seen.now_s < READY_S
    return evening.ended_s is not None and seen.now_s > evening.ended_s + AFTER_S


def hot(evening: Evening, seen: Snapshot) -> bool:
    """Somebody is called to hot water."""
    assert seen.now_s < 2 * READY_S
    return any(call.kind == "present" for call in seen.calls)


def spent(evening: Evening, *, speed: float | None = None) -> Evening:
    """The evening in accelerated time."""
    run_paced(evening.live, speed=speed, start_utc_s=START_UTC_S)
    return evening


@dataclass(frozen=True, slots=True, kw_only=True)
class Armed:
    """An evening that was armed to its end, which came `called_s` after its begin, and its record."""

    evening: Evening
    called_s: float
    folder: Path


@pytest.fixture(scope="module")
def armed(tmp_path_factory: pytest.TempPathFactory) -> Armed:
    """One, lived to the call to hot water."""
    at_s: list[float] = []

    def until(evening: Evening, seen: Snapshot) -> bool:
        at_s.append(seen.now_s)
        return hot(evening, seen)

    folder = tmp_path_factory.mktemp("armed")
    evening = spent(Evening(folder=folder, until=until))
    return Armed(evening=evening, called_s=at_s[-1], folder=folder)


def test_a_kettle_that_was_armed_over_the_wire_has_its_water_hot_in_time(armed: Armed) -> None:
    evening = armed.evening
    assert evening.phases[-1] == "armed"
    assert {"contactor_alone", "heater_alone", "drop", "rejoin", "call"} <= set(evening.phases)
    assert READY_S - 360.0 < armed.called_s < READY_S
    assert evening.warmed_c == pytest.approx(TO_C, abs=0.7)
    assert evening.alarms == set()


def test_the_record_of_an_arming_replays_to_the_same_events(armed: Armed) -> None:
    records = records_in(armed.folder)
    assert armed.evening.batch is not None
    header = records.header(armed.evening.batch)
    replayed = replay(CORE, header.plan, records.ticks(armed.evening.batch), records.events(armed.evening.batch))
    assert replayed.difference is None
    assert replayed.ticks > 1000


def stuck_on(board: SerialBoard, phase: str) -> None:
    if phase == "drop":
        board.board.stick(Pin.HEATER, True, board.now_ms())


def gone(board: SerialBoard, phase: str) -> None:
    if phase == "rejoin":
        board.board.switch_off(board.now_ms())


def heater_welded(board: SerialBoard, phase: str) -> None:
    board.wiring.heater_welded = True


def contactor_welded(board: SerialBoard, phase: str) -> None:
    board.wiring.contactor_welded = True


def dead_output(board: SerialBoard, phase: str) -> None:
    if phase == "heater_alone":
        board.board.stick(Pin.HEATER, False, board.now_ms())


UNFIT: dict[str, tuple[Trouble, bool, str]] = {
    "its heater stays on after the lease": (stuck_on, True, "arm_held_on"),
    "its heater's switch is welded": (heater_welded, True, "arm_heater_welded"),
    "its main contactor is welded": (contactor_welded, True, "arm_contactor_welded"),
    "its heater's output is dead": (dead_output, True, "arm_heater_silent"),
    "it is not had again": (gone, True, "arm_no_rejoin"),
    "nobody presses its button": (nothing, False, "arm_call_unanswered"),
}


@pytest.mark.parametrize("why", UNFIT)
def test_a_board_that_must_not_be_left_alone_is_not_armed(why: str, tmp_path: Path) -> None:
    trouble, answers, reason = UNFIT[why]
    evening = spent(Evening(folder=tmp_path, trouble=trouble, answers=answers, until=refused))
    assert evening.reason == reason
    assert reason in ARMING_REFUSALS
    stuck = {Pin.HEATER} if trouble is stuck_on else set()
    assert {pin for pin, on in evening.pins.items() if on} == stuck
    assert evening.warmed_c < 17.0
    assert evening.heated_at_s is None


def test_a_heater_that_stays_on_also_holds_the_day_with_an_alarm(tmp_path: Path) -> None:
    evening = spent(Evening(folder=tmp_path, trouble=stuck_on, until=refused))
    assert evening.state is BatchState.HELD
    assert "beyond_told" in evening.alarms


def test_one_that_was_not_armed_is_cold_at_the_hour_and_says_so(tmp_path: Path) -> None:
    def past(evening: Evening, seen: Snapshot) -> bool:
        return seen.now_s > READY_S

    evening = spent(Evening(folder=tmp_path, arms=False, answers=False, until=past))
    assert evening.heated_at_s is None
    assert evening.alarms == {"stays_cold"}
    assert evening.warmed_c < 17.0


def test_tell_arm_says_how_far_it_is_and_that_it_is_armed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    asked: list[asyncio.Task[int]] = []

    def until(evening: Evening, seen: Snapshot) -> bool:
        if seen.arming is not None and not asked:
            words = ["tell", KETTLE, "arm", "--state", str(tmp_path)]
            asked.append(asyncio.ensure_future(asyncio.to_thread(main, words)))
        return bool(asked) and asked[0].done()

    evening = spent(Evening(folder=tmp_path, arms=False, until=until), speed=60.0)
    assert asked[0].result() == DONE
    said = capsys.readouterr().out.splitlines()
    assert said[0] == "Taken."
    assert said[-1] == "Armed."
    assert any("test call" in line for line in said)
    assert evening.phases[-1] == "armed"
