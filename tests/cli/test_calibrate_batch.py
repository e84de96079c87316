"""`calibrate --kettle K --batch B`: what the record of a day on a kettle says, and what it does not."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from kettlebridge.app import JOURNAL_NAME
from kettlebridge.brewing.calibrating import Finding, findings
from kettlebridge.brewing.calibration_day import CALIBRATION, ICE, LITRES, WARM_UP, Part, calibration_day, usual_litres
from kettlebridge.brewing.calibration_record import Told
from kettlebridge.brewing.measuring import liquid_l
from kettlebridge.cli.exits import DONE, FAILED, USAGE
from kettlebridge.cli.main import main
from kettlebridge.core.snapshot import snapshot
from kettlebridge.documents.calibration_words import LACKS, PART_WORDS
from kettlebridge.files.kettle_file import load_kettle
from kettlebridge.files.profile_file import load_profile
from kettlebridge.journal.store import SqliteJournal, open_journal
from kettlebridge.journal.work import Pace
from kettlebridge.model.command import Command, CommandKind
from kettlebridge.model.ids import BatchId, CommandId
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.plan import Plan
from kettlebridge.model.trace import Trace
from kettlebridge.ports import BatchHeader, TickEntry
from kettlebridge.runtime.clock import OpenGate
from kettlebridge.runtime.traces import Course
from kettlebridge.simulated.brewer import SimulatedBrewer
from kettlebridge.simulated.calibration import patient_day, step_of
from kettlebridge.simulated.kettle import body_of
from kettlebridge.simulated.virtual_day import Second, VirtualDay
from kettlesim.world import World
from tests.cli.kettles import example

THIMBLE = example("thimble")
KETTLE = load_kettle(THIMBLE).kettle
WATER_DAY = calibration_day(usual_litres(KETTLE), frozenset(Part))
ROOM_C = 18.0
WEAK, OFF_C, LEAKS = 0.92, 0.6, 1.3
"""The true kettle: 8 % less power, probes 0.6 °C high, 30 % more losses than the file says."""
LEFT_L = 0.6
HOT_C = 99.0
"""Of the water as its litres are read, as the brewer says it."""
WATER, HASTY, BEGUN, BREW, GRAIN, OTHER = (
    BatchId(name) for name in ("thimble-1", "thimble-2", "thimble-3", "thimble-4", "thimble-5", "saddle-1")
)
SETTLED_EVERY = 2000
FEW = 400
Found = dict[Part, Finding]


@dataclass(frozen=True, kw_only=True)
class Recorded:
    """The folder of the record, the course of the patient day as it was lived, and what was then in the kettle."""

    folder: Path
    lived: Trace
    after_boil_l: float


def world() -> World:
    body = body_of(KETTLE)
    true = replace(body, heater_w=body.heater_w * WEAK, wall_outside_w_per_k=body.wall_outside_w_per_k * LEAKS)
    return World(true, seed=3, ambient_c=ROOM_C, probe_offset_c=OFF_C)


def water_day() -> VirtualDay:
    return patient_day(Plan(kettle=KETTLE, profile=WATER_DAY), world(), probes_off_c=OFF_C, seed=3)


def hasty_day() -> VirtualDay:
    """Nobody waits in the ice or while it cools, and nobody reads any litres."""
    day = water_day()
    day.brewer = SimulatedBrewer(day.plan, day.world, seed=3)
    return day


def first_minutes(plan: Plan) -> Iterable[Second]:
    return (second for _, second in zip(range(FEW), VirtualDay(plan, seed=3).seconds(), strict=False))


async def written(journal: SqliteJournal, batch: BatchId, plan: Plan, seconds: Iterable[Second]) -> None:
    await journal.begin(
        BatchHeader(
            batch=batch, kettle=plan.kettle.name, plan=plan, started_utc_s=1_800_000_000.0, program="0", python="3"
        )
    )
    n = 0
    for second in seconds:
        journal.record(TickEntry(batch=batch, n=n, inputs=second.inputs, events=second.events, urgent=False))
        if n % SETTLED_EVERY == 0:
            assert await journal.settled(batch, n)
        n += 1
    assert await journal.settled(batch, n - 1)


async def recorded_in(folder: Path) -> Recorded:
    day, course, after_boil_l = water_day(), Course(WATER), 0.0

    def measured() -> Iterable[Second]:
        """The day of somebody who reads the litres off the hot scale, once the boil has ended."""
        nonlocal after_boil_l
        for second in day.seconds():
            course.add(snapshot(day.plan, WATER, second.state), second.events)
            yield second
            if not after_boil_l and step_of(day) == LITRES:
                after_boil_l = day.world.truth().volume_l
                hot_l = after_boil_l / liquid_l(1.0, HOT_C, 0.0)
                say = Command(id=CommandId("read"), kind=CommandKind.MEASURED, who="ilka", litres=hot_l, at_c=HOT_C)
                day.tell(say)

    brew = Plan(kettle=KETTLE, profile=load_profile(example("quillet_bitter")))
    odd = Plan(kettle=KETTLE, profile=replace(brew.profile, name=CALIBRATION))
    other = Plan(kettle=load_kettle(example("saddle")).kettle, profile=WATER_DAY)
    hasty = hasty_day()
    pace = Pace(commit_every_s=0.02)
    async with open_journal(folder / JOURNAL_NAME, gate=OpenGate(), program="0", pace=pace) as journal:
        await written(journal, WATER, day.plan, measured())
        await written(journal, HASTY, hasty.plan, hasty.seconds())
        for batch, plan in ((BEGUN, day.plan), (BREW, brew), (GRAIN, odd), (OTHER, other)):
            await written(journal, batch, plan, first_minutes(plan))
    return Recorded(folder=folder, lived=course.trace(), after_boil_l=after_boil_l)


@pytest.fixture(scope="module")
def recorded(tmp_path_factory: pytest.TempPathFactory) -> Recorded:
    return asyncio.run(recorded_in(tmp_path_factory.mktemp("record")))


def calibrated(recorded: Recorded, batch: str, kettle: Path, *more: str) -> int:
    return main(
        ["calibrate", "--kettle", str(kettle), "--batch", batch, "--state", str(recorded.folder), "--room", "18", *more]
    )


def copied(folder: Path) -> Path:
    path = folder / "thimble.toml"
    path.write_bytes(THIMBLE.read_bytes())
    return path


def by_part(recorded: Recorded, *, kettle: Kettle = KETTLE, lived: Trace | None = None, **said: float) -> Found:
    """What the day says as it was lived."""
    told = Told(boil_c=KETTLE.boil_c, room_c=ROOM_C, **said)
    return {each.part: each for each in findings(kettle, lived or recorded.lived, told)}


def figure(found: Found, part: Part) -> float:
    value = found[part].found
    assert value is not None
    return value


@pytest.mark.slow
def test_a_record_says_what_the_true_kettle_is_and_no_less_than_the_day_itself(
    recorded: Recorded, capsys: pytest.CaptureFixture[str]
) -> None:
    assert calibrated(recorded, WATER, THIMBLE, "--left", str(LEFT_L), "--json") == DONE
    document = json.loads(capsys.readouterr().out)
    found = {Part(each["part"]): each for each in document["findings"]}
    assert set(found) == set(Part)
    assert found[Part.HEATER]["found"] == pytest.approx(WEAK * KETTLE.heater_w, rel=0.03)
    assert found[Part.LOSSES]["found"] == pytest.approx(LEAKS * KETTLE.loss_w_per_k, rel=0.15)
    assert found[Part.PROBE]["found"] == pytest.approx(-OFF_C, abs=0.3)
    assert found[Part.DEAD_SPACE]["found"] == LEFT_L
    assert all(each["refused"] is None for each in found.values())
    lived = {part: (each.found, each.spread) for part, each in by_part(recorded, left_l=LEFT_L).items()}
    assert {part: (each["found"], each["spread"]) for part, each in found.items()} == lived


def test_the_litres_after_the_boil_come_from_the_record_or_from_who_read_them(recorded: Recorded) -> None:
    """Half a litre more gone in forty minutes is half as much again; the scale was read hot and counts as cold."""
    by_record = figure(by_part(recorded), Part.BOIL_OFF)
    by_hand = figure(by_part(recorded, after_boil_l=recorded.after_boil_l), Part.BOIL_OFF)
    more_gone = figure(by_part(recorded, after_boil_l=recorded.after_boil_l - 0.5), Part.BOIL_OFF)
    assert by_record == pytest.approx(by_hand, rel=5e-3)
    assert more_gone > 1.3 * by_hand


def test_litres_that_did_not_become_less_are_not_believed(recorded: Recorded) -> None:
    assert "no less" in str(by_part(recorded, after_boil_l=KETTLE.capacity_l)[Part.BOIL_OFF].refused)


def test_whether_litres_and_heat_agree_does_not_hang_on_the_file_s_own_figure(recorded: Recorded) -> None:
    gentler = replace(KETTLE, boil_off_l_per_h=0.8 * KETTLE.boil_off_l_per_h)
    assert figure(by_part(recorded, kettle=gentler), Part.BOIL_OFF) == pytest.approx(
        0.8 * figure(by_part(recorded), Part.BOIL_OFF)
    )


def test_litres_say_nothing_without_the_heater_s_own_power(recorded: Recorded) -> None:
    """A day whose boil was lived and whose warming up was not."""
    spans = tuple(span for span in recorded.lived.spans if span.name != WARM_UP)
    found = by_part(recorded, lived=replace(recorded.lived, spans=spans))
    assert Part.HEATER not in found
    assert "heater's power" in str(found[Part.BOIL_OFF].refused)


def test_too_few_readings_in_the_ice_are_said_to_be_too_few(recorded: Recorded) -> None:
    spans = tuple(
        replace(span, ended_s=span.begun_s + 40.0) if span.name == ICE else span for span in recorded.lived.spans
    )
    probe = by_part(recorded, lived=replace(recorded.lived, spans=spans))[Part.PROBE]
    assert probe.found is None
    assert "too short a time" in str(probe.refused)


def test_what_is_written_is_what_the_record_says_from_then_on(
    recorded: Recorded, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    copy = copied(tmp_path)
    assert calibrated(recorded, WATER, copy, "--left", str(LEFT_L), "--write") == DONE
    fresh = load_kettle(copy).kettle
    assert fresh.heater_w == pytest.approx(WEAK * KETTLE.heater_w, rel=0.03)
    assert fresh.dead_space_l == LEFT_L
    assert fresh.boil_off_l_per_h == KETTLE.boil_off_l_per_h
    again = by_part(recorded, kettle=fresh, left_l=LEFT_L)
    assert not any(again[part].worth_taking for part in (Part.HEATER, Part.LOSSES, Part.BOIL_OFF, Part.DEAD_SPACE))
    capsys.readouterr()


def test_what_was_done_in_haste_is_said_part_by_part(recorded: Recorded, capsys: pytest.CaptureFixture[str]) -> None:
    """Nobody stirred the ice or waited for the fall, and nobody read any litres."""
    assert calibrated(recorded, HASTY, THIMBLE) == DONE
    shown = capsys.readouterr().out
    assert shown.count(LACKS) == 3
    for part, word in (
        (Part.PROBE, "it wandered"),
        (Part.LOSSES, "it fell by less than"),
        (Part.BOIL_OFF, "it needs the litres that the boil left, read off the scale: --after-boil"),
        (Part.DEAD_SPACE, "it needs the litres that draining left, measured: --left"),
    ):
        assert f"{PART_WORDS[part]}: {word}" in shown
    assert f"{PART_WORDS[Part.HEATER]}:" not in shown


@pytest.mark.parametrize(
    ("batch", "code", "words"),
    [
        ("thimble-99", FAILED, "there is no batch thimble-99"),
        (BREW, USAGE, 'is "Quillet Bitter" on thimble: no calibration'),
        (GRAIN, USAGE, "no calibration with water of thimble"),
        (OTHER, USAGE, "on saddle: no calibration with water of thimble"),
    ],
)
def test_another_record_is_refused_by_what_it_is(
    recorded: Recorded, tmp_path: Path, capsys: pytest.CaptureFixture[str], batch: str, code: int, words: str
) -> None:
    copy = copied(tmp_path)
    assert calibrated(recorded, batch, copy, "--write") == code
    assert words in capsys.readouterr().err
    assert copy.read_bytes() == THIMBLE.read_bytes()


def test_a_day_that_was_hardly_begun_has_measured_nothing(
    recorded: Recorded, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    copy = copied(tmp_path)
    assert calibrated(recorded, BEGUN, copy, "--write") == FAILED
    assert "Nothing was measured." in capsys.readouterr().out
    assert copy.read_bytes() == THIMBLE.read_bytes()
