"""Faults of a practice day in virtual time: drawn, noticed, mended, carried on with, and told.

Each of them on a kettle without a wire; one of each kind of hands on a board at a real pty, by the whole service.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from functools import cache, partial
from pathlib import Path

import pytest

from kettlebridge.app import CORE, Service, records_in
from kettlebridge.cli.practice_told import UNNOTICED, Told, told
from kettlebridge.core.snapshot import snapshot
from kettlebridge.files.examples import config_folder
from kettlebridge.files.kettle_file import KettleFile, load_kettle
from kettlebridge.files.local_time import zone_time
from kettlebridge.model.alarm import AlarmState
from kettlebridge.model.batch_state import ENDED, BatchState
from kettlebridge.model.command import Command, CommandKind
from kettlebridge.model.ids import BatchId, CommandId, KettleId
from kettlebridge.model.plan import AskKind, AskStep, HeatStep, Plan, Profile, RestStep, Water
from kettlebridge.model.reading import BoardInput
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.runtime.clock import run_paced
from kettlebridge.runtime.traces import Course, folded
from kettlebridge.simulated.day_faults import FoldRig
from kettlebridge.simulated.demo_day import BY_HAND, Demo, Outcome, live
from kettlebridge.simulated.kettle_mishaps import KETTLE_MISHAPS, MASH, KettleMishap
from kettlebridge.simulated.mending_brewer import MendingBrewer
from kettlebridge.simulated.practice_faults import DRAWN, PASSED_BY_S, Drawn, PracticeFaults, Tell, drawn
from kettlebridge.simulated.virtual_day import VirtualDay
from tests.house.tree import ROOT

pytestmark = pytest.mark.usefixtures("records_replay")

START_UTC_S = 1_800_000_000.0
WARMING = Profile(
    name="Warming",
    water=Water(fill_l=8.0),
    steps=(AskStep(name="Fill", what=AskKind.FILL), HeatStep(name="Warm", to_c=45.0)),
)
UNPLUGGED = next(row for row in KETTLE_MISHAPS if row.fault.name == "probe-silent")
MASHING = Profile(
    name="Mashing",
    water=Water(fill_l=20.0, grain_kg=4.0),
    steps=(
        AskStep(name="Fill", what=AskKind.FILL),
        HeatStep(name="Strike water", to_c=35.0),
        AskStep(name="Dough in", what=AskKind.DOUGH_IN),
        RestStep(name="Rest", at_c=34.0, for_min=12, pump_after_min=1),
    ),
)
LONGEST_S = 4 * 3600.0


@cache
def kettle(name: str) -> KettleFile:
    return load_kettle(config_folder() / "kettles" / f"{name}.toml")


def kettle_for(mishap: KettleMishap) -> KettleFile:
    """An example kettle that has what the fault is about."""
    needs = set(mishap.fault.needs)
    file = kettle(
        "saddle" if "same_place" in needs else "ferryman" if needs & {"flow", "level", "cutout"} else "thimble"
    )
    return replace(file, kettle=replace(file.kettle, inputs=file.kettle.inputs | BoardInput.CUTOUT))


@dataclass(slots=True, kw_only=True)
class Lived:
    """A day, what was said of the mishap as it went on, and the row of the table at its end."""

    outcome: Outcome
    lines: list[str] = field(default_factory=list)
    rows: tuple[Told, ...] = ()


def coming(mishap: KettleMishap) -> Drawn:
    """A minute and a half into its moment."""
    return Drawn(mishap=mishap, moment=mishap.moments[0], after_s=90.0)


def profile_for(mishap: KettleMishap) -> Profile:
    """A short day that has that moment."""
    return MASHING if mishap.moments[0] == MASH else WARMING


def demo_of(mishap: KettleMishap, folder: Path, lines: list[str]) -> Demo:
    """That day with that mishap, hands off."""
    return Demo(
        file=kettle_for(mishap),
        profile=profile_for(mishap),
        seed=1,
        hands_off=True,
        until_complete=True,
        folder=folder,
        time=zone_time("UTC"),
        listeners=(),
        beside=None,
        faults=(coming(mishap),),
        tell=lambda _snapshot, words: lines.append(words),
    )


def lived(demo: Demo, lines: list[str]) -> Lived:
    """That day, and what its end tells."""
    outcome = run_paced(partial(live, demo), start_utc_s=START_UTC_S)
    records = records_in(demo.folder)
    trace = folded(CORE, records.header(outcome.batch), records)
    return Lived(outcome=outcome, lines=lines, rows=told((), outcome.happened, trace))


class Wireless(FoldRig):
    """The rig of a kettle without a cable."""

    def loosen(self, lost_fraction: float) -> None:
        """There is no plug to hang loose."""
        raise NotImplementedError


class Practice:
    """A day without a wire and a brewer who mends; `lines` as on a real one."""

    def __init__(self, mishap: KettleMishap, tell: Tell) -> None:
        plan = Plan(kettle=kettle_for(mishap).kettle, profile=profile_for(mishap))
        self.faults = PracticeFaults((coming(mishap),), Wireless(day := VirtualDay(plan, seed=1)), tell)
        self._day, self._plan = day, plan
        self._mending = MendingBrewer(self.faults, seed=1)

    def lived(self) -> tuple[BatchState, tuple[Told, ...]]:
        """How it ended, and what its end tells."""
        course = Course(BatchId("practice"))
        day = self._day
        while day.state.batch not in ENDED and day.now_s < LONGEST_S:
            events = day.second().events
            seen = snapshot(self._plan, course.batch, day.state)
            course.add(seen, events)
            self.faults.publish(seen, events)
            day.tell(*self._mending.look(seen))
        return day.state.batch, told((), self.faults.happened, course.trace())


def assert_mended_and_carried_on(mishap: KettleMishap, rows: tuple[Told, ...], lines: list[str]) -> None:
    """What the end tells, and what was said meanwhile."""
    (row,) = rows
    assert row.happened == mishap.happened
    assert row.noticed != UNNOTICED
    assert row.ended.startswith("Put right after ")
    assert mishap.mended in row.ended
    assert "Carried on after " in row.ended
    assert lines == [f"Mishap: {mishap.happened} {mishap.do}", f"Put right: {mishap.mended}"]


def named(row: KettleMishap) -> str:
    return row.fault.name


OF_THE_WIRE = {"cable-loose"}
OF_EACH_KIND = {"probe-silent", "no-mains", "level", "heater-welded", "board-restarts"} | OF_THE_WIRE
"""Hands on a probe, on the kettle itself, on an input, a switch, the board, its cable."""


@pytest.mark.parametrize("mishap", [row for row in KETTLE_MISHAPS if named(row) not in OF_THE_WIRE], ids=named)
def test_each_mishap_is_noticed_mended_and_carried_on_with(mishap: KettleMishap) -> None:
    lines: list[str] = []
    state, rows = Practice(mishap, lambda _snapshot, words: lines.append(words)).lived()
    assert state is BatchState.COMPLETE
    assert_mended_and_carried_on(mishap, rows, lines)


@pytest.mark.slow
@pytest.mark.parametrize("mishap", [row for row in KETTLE_MISHAPS if named(row) in OF_EACH_KIND], ids=named)
def test_a_mishap_of_each_kind_is_so_on_a_board_too(mishap: KettleMishap, tmp_path: Path) -> None:
    lines: list[str] = []
    day = lived(demo_of(mishap, tmp_path, lines), lines)
    assert day.outcome.state is BatchState.COMPLETE
    assert_mended_and_carried_on(mishap, day.rows, day.lines)


class Person:
    """At the keyboard of a day: confirms what is asked; sees an alarm, and carries on a minute later."""

    def __init__(self, *, sees_alarms: bool) -> None:
        self._sees_alarms = sees_alarms
        self._count = 0

    async def __call__(self, service: Service, kettle: KettleId) -> None:
        """Until the day is over, or was paused for an hour."""
        paused_since_s: float | None = None
        async for seen in service.snapshots.stream(kettle):
            held = seen.state is BatchState.HELD
            paused_since_s = (paused_since_s or seen.now_s) if held else None
            if seen.state is BatchState.COMPLETE or seen.now_s - (paused_since_s or seen.now_s) > 3600.0:
                return
            if seen.calls:
                await self._say(service, kettle, CommandKind.CONFIRM, seen, seen.calls[0].id)
            elif self._sees_alarms and any(one.state is AlarmState.UNACKNOWLEDGED for one in seen.alarms):
                await self._say(service, kettle, CommandKind.ACKNOWLEDGE, seen)
            elif held and int(seen.now_s) % 60 == 0:
                await self._say(service, kettle, CommandKind.CARRY_ON, seen)

    async def _say(
        self, service: Service, kettle: KettleId, kind: CommandKind, seen: Snapshot, call: str | None = None
    ) -> None:
        self._count += 1
        command = Command(
            id=CommandId(f"person.{self._count}"), kind=kind, who="person", at_kettle=True, seen_n=seen.n, call=call
        )
        await service.commands.submit(kettle, command)


def attended(folder: Path, lines: list[str], *, sees_alarms: bool) -> Lived:
    demo = demo_of(UNPLUGGED, folder, lines)
    return lived(replace(demo, hands_off=False, beside=Person(sees_alarms=sees_alarms)), lines)


def test_whoever_is_there_is_told_what_to_do_and_has_done_it_by_seeing_the_alarm(tmp_path: Path) -> None:
    lines: list[str] = []
    day = attended(tmp_path, lines, sees_alarms=True)
    assert day.outcome.state is BatchState.COMPLETE
    assert lines == [
        f"Mishap: {UNPLUGGED.happened} {UNPLUGGED.do} {BY_HAND}",
        f"Put right: {UNPLUGGED.mended}",
    ]
    (happened,) = day.outcome.happened
    assert happened.mended_s is not None
    assert happened.mended_s - happened.found[0][1] < 5.0


@pytest.mark.slow
def test_where_nobody_sees_the_alarm_it_stands_until_somebody_comes_past(tmp_path: Path) -> None:
    day = attended(tmp_path, [], sees_alarms=False)
    (happened,) = day.outcome.happened
    assert happened.mended_s is not None
    assert happened.mended_s - happened.at_s == pytest.approx(PASSED_BY_S, abs=2.0)
    assert "Carried on after 3" in day.rows[0].ended


def names(kettle_name: str, seed: int, *, hard: bool = False) -> list[str]:
    return [one.mishap.fault.name for one in drawn(kettle(kettle_name).kettle, seed=seed, hard=hard)]


def test_a_seed_draws_the_same_faults_at_the_same_moments_again() -> None:
    whole = kettle("ferryman").kettle
    for seed in range(20):
        assert drawn(whole, seed=seed, hard=False) == drawn(whole, seed=seed, hard=False)
        assert len(set(names("ferryman", seed))) == DRAWN
    assert len({tuple(names("ferryman", seed)) for seed in range(20)}) > 10


def test_all_that_a_kettle_can_have_come_by_and_by_and_nothing_else() -> None:
    def by_and_by(name: str, *, hard: bool) -> set[str]:
        return {fault for seed in range(300) for fault in names(name, seed, hard=hard)}

    usual = {row.fault.name for row in KETTLE_MISHAPS if not row.hard}
    hard = {row.fault.name for row in KETTLE_MISHAPS if row.hard}
    assert by_and_by("ferryman", hard=False) == usual - {"twin-drifts", "cut-out"}
    assert by_and_by("saddle", hard=False) == usual - {"pump-stops", "bed-stuck", "level", "cut-out"}
    assert by_and_by("ferryman", hard=True) - by_and_by("ferryman", hard=False) == hard != set()


def test_every_mishap_is_in_words_and_can_be_undone() -> None:
    for row in KETTLE_MISHAPS:
        assert all(words.endswith(".") for words in (row.happened, row.do, row.mended)), row.fault.name
        assert row.moments
    assert len({row.fault.name for row in KETTLE_MISHAPS}) == len(KETTLE_MISHAPS)


def test_the_page_about_practice_days_has_each_mishap_in_the_same_words() -> None:
    page = (ROOT / "docs" / "practice.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| `([a-z-]+)` \| (.+) \| (.+) \| (hard)? ?\|$", page, re.MULTILINE)
    told = [(row.fault.name, row.happened, row.do, "hard" if row.hard else "") for row in KETTLE_MISHAPS]
    assert rows == told
