"""The composition root: what it builds out of files, in accelerated time over real ptys."""

from __future__ import annotations

import asyncio
from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest

from kettlebridge.app import (
    Assignment,
    NextInLine,
    NothingToBrewError,
    Opener,
    Service,
    Setting,
    records_in,
    run_service,
)
from kettlebridge.bridges import bridge_to_simulated
from kettlebridge.cli import serve
from kettlebridge.cli.exits import USAGE
from kettlebridge.cli.main import main
from kettlebridge.cli.serve import unready
from kettlebridge.files.kettle_file import KettleFile, load_kettle
from kettlebridge.files.local_time import zone_time
from kettlebridge.files.profile_file import load_profile
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import Command, CommandKind
from kettlebridge.model.errors import JournalError, LinkError, LinkReason
from kettlebridge.model.event import Event
from kettlebridge.model.ids import CommandId, KettleId
from kettlebridge.model.plan import Plan, Profile
from kettlebridge.model.reason import Reason
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.ports import NotNext, NotNextCode
from kettlebridge.runtime.clock import PacedClock, run_paced
from kettlebridge.runtime.first_of import endless, first_of
from kettlebridge.simulated.board import simulated_board, wired_to
from kettlebridge.simulated.brewer import SimulatedBrewer
from kettlebridge.simulated.demo_day import HandsOff
from kettlebridge.simulated.kettle import body_of
from kettlebridge.web.server import Address
from kettlesim.wire_serial.fittings import Cap
from kettlesim.world import World
from tests.cli.kettles import example, kettle_at, short_day

pytestmark = pytest.mark.usefixtures("records_replay")

STARTED_UTC_S = 1_800_000_000.0


def setting(clock: PacedClock, folder: Path) -> Setting:
    return Setting(clock=clock, folder=folder, time=zone_time("Europe/Oslo"), bridges=bridge_to_simulated)


async def brewed(service: Service, hands: HandsOff, kettle: KettleId) -> BatchState:
    """Starts the day of one kettle as soon as it has a temperature, and waits for its end."""
    async for seen in service.snapshots.stream(kettle):
        if seen.temperature_c is not None:
            break
    start = Command(id=CommandId("start"), kind=CommandKind.START, who="test")
    assert (await service.commands.submit(kettle, start)).refused is None
    return await first_of(service.keepers[kettle].ended(), hands.submit(service.commands, kettle))


class OnlyFor:
    """A publisher that passes on what is about one kettle."""

    def __init__(self, kettle: KettleId, hands: HandsOff) -> None:
        self._kettle = kettle
        self._hands = hands

    def publish(self, snapshot: Snapshot, events: tuple[Event, ...]) -> None:
        if snapshot.kettle == self._kettle:
            self._hands.publish(snapshot, events)


def test_two_kettles_brew_side_by_side_in_one_process(tmp_path: Path) -> None:
    profile = load_profile(short_day(tmp_path))
    files = (load_kettle(example("thimble")), load_kettle(example("saddle")))

    async def day(clock: PacedClock) -> list[BatchState]:
        worlds = [World(body_of(file.kettle), seed=1, probe_offset_c=0.0) for file in files]
        boards = [simulated_board(file, clock, world, seed=1) for file, world in zip(files, worlds, strict=True)]
        all_hands = [
            HandsOff(SimulatedBrewer(Plan(kettle=file.kettle, profile=profile), world, seed=1).look)
            for file, world in zip(files, worlds, strict=True)
        ]
        names = [file.kettle.name for file in files]
        listeners = [OnlyFor(name, hands) for name, hands in zip(names, all_hands, strict=True)]

        async def both(service: Service) -> list[BatchState]:
            pairs = zip(all_hands, names, strict=True)
            return await asyncio.gather(*(brewed(service, hands, name) for hands, name in pairs))

        assignments = [
            Assignment(file=wired_to(board, file), profile=profile) for board, file in zip(boards, files, strict=True)
        ]
        around = replace(setting(clock, tmp_path), listeners=listeners)
        return await first_of(run_service(assignments, around, both), *(endless(board.run()) for board in boards))

    assert run_paced(day, start_utc_s=STARTED_UTC_S) == [BatchState.COMPLETE] * 2


def test_hurried_time_is_refused_by_a_board_that_does_not_say_it_is_simulated(tmp_path: Path) -> None:
    file, profile = load_kettle(example("thimble")), load_profile(short_day(tmp_path))

    async def day(clock: PacedClock) -> None:
        world = World(body_of(file.kettle), seed=1)
        board = simulated_board(file, clock, world, seed=1)
        board.board.fittings = replace(board.board.fittings, cap=Cap(0))
        assignments = [Assignment(file=wired_to(board, file), profile=profile)]
        around = setting(clock, tmp_path)
        body = partial(serve._until_stopped, assignments, around, hurried=True)
        try:
            await first_of(run_service(assignments, around, body), endless(board.run()))
        finally:
            assert board.board.session == 0

    with pytest.raises(LinkError) as refused:
        run_paced(day, start_utc_s=STARTED_UTC_S)
    assert refused.value.reason is LinkReason.NOT_SIMULATED


def early_day(path: Path) -> Path:
    """That profile, to be ready at seven from now on."""
    path.write_text(path.read_text().replace("[water]", 'ready_at = "07:00"\n[water]'))
    return path


@pytest.mark.parametrize("name", ["lockhouse", "slipway"])
def test_a_time_to_be_ready_at_is_refused_for_a_kettle_that_cannot_be_armed(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """By the command line, before anything starts, and by the page; the same day without that time is not."""
    file = load_kettle(example(name))
    path = short_day(tmp_path)
    plain, early = load_profile(path), load_profile(early_day(path))
    words = ["serve", str(example(name)), "--profile", f"{name}={path}", "--state", str(tmp_path / "state")]
    assert main(words) == USAGE
    assert "cannot show that it drops it by itself" in capsys.readouterr().err
    assert not (tmp_path / "state").exists()
    assert unready(Assignment(file=file, profile=plain)) is None
    assert "cannot show that it drops it by itself" in str(unready(Assignment(file=file, profile=early)))
    opener = Opener(Assignment(file=file), zone_time("UTC"), records_in(tmp_path))
    kettle = file.kettle.name
    next_batches = NextInLine({kettle: BUSY}, {kettle: opener})  # type: ignore[dict-item]  # all that is asked of it
    never, at_work = next_batches.prepare(kettle, early), next_batches.prepare(kettle, plain)
    assert never == NotNext(code=NotNextCode.NEVER_ARMED, reasons=(Reason(code="arm_lease_not_shown"),))
    assert at_work == NotNext(code=NotNextCode.AT_WORK)


def test_a_kettle_on_the_serial_line_may_have_a_time_to_be_ready_at(tmp_path: Path) -> None:
    file = load_kettle(example("saddle"))
    early = replace(load_profile(short_day(tmp_path)), ready_at="07:00")
    assert unready(Assignment(file=file, profile=early)) is None


class _Busy:
    free = False


BUSY = _Busy()


def begun(file: KettleFile, profile: Profile | None, folder: Path) -> Plan:
    """The plan of the batch that a service begins; there is no board."""

    async def begin(clock: PacedClock) -> Plan:
        async def first_snapshot(service: Service) -> Plan:
            async for seen in service.snapshots.stream(file.kettle.name):
                return service.records.header(seen.batch).plan
            raise AssertionError("the stream goes on")

        return await run_service([Assignment(file=file, profile=profile)], setting(clock, folder), first_snapshot)

    return run_paced(begin, start_utc_s=STARTED_UTC_S)


def test_a_ready_time_is_the_next_one_on_the_local_clock(tmp_path: Path) -> None:
    """The batch begins on 15 January 2027 at 09:00 in Oslo: half past seven is tomorrow, 22.5 h later."""
    profile = replace(load_profile(short_day(tmp_path)), ready_at="07:30")
    plan = begun(load_kettle(kettle_at(tmp_path, tmp_path / "none")), profile, tmp_path / "state")
    assert plan.ready_at_utc_s == STARTED_UTC_S + 22.5 * 3600


def test_an_unfinished_batch_goes_on_with_the_plan_it_was_begun_with(tmp_path: Path) -> None:
    file = load_kettle(kettle_at(tmp_path, tmp_path / "none"))
    profile = load_profile(short_day(tmp_path))
    first = begun(file, profile, tmp_path / "state")
    assert begun(file, replace(profile, name="Another"), tmp_path / "state") == first
    assert begun(file, None, tmp_path / "state") == first


def test_a_kettle_with_nothing_to_brew_is_refused_and_the_record_is_free_again(tmp_path: Path) -> None:
    file = load_kettle(kettle_at(tmp_path, tmp_path / "none"))
    with pytest.raises(NothingToBrewError, match="no unfinished batch"):
        begun(file, None, tmp_path / "state")
    begun(file, load_profile(short_day(tmp_path)), tmp_path / "state")


def test_with_a_page_to_choose_on_a_kettle_waits_unrecorded_and_what_is_chosen_is_its_first_batch(
    tmp_path: Path,
) -> None:
    file = load_kettle(kettle_at(tmp_path, tmp_path / "none"))
    name, profile = file.kettle.name, load_profile(short_day(tmp_path))

    async def chosen(service: Service) -> None:
        waiting = service.snapshots.stream(name)
        seen = await anext(waiting)
        assert (seen.nothing_chosen, seen.state, seen.step) == (True, BatchState.IDLE, None)
        start = Command(id=CommandId("start"), kind=CommandKind.START, who="test")
        assert (await service.commands.submit(name, start)).refused == "nothing_left"
        assert service.records.batches() == ()
        assert service.next_batches.prepare(name, profile) is None
        async for later in waiting:
            if not later.nothing_chosen:
                break
        assert [batch.profile for batch in service.records.batches()] == [profile.name]

    async def served(clock: PacedClock) -> None:
        with_page = replace(setting(clock, tmp_path / "state"), page=Address(port=0), profiles=(tmp_path,))
        await run_service([Assignment(file=file)], with_page, chosen)

    run_paced(served, start_utc_s=STARTED_UTC_S)


def test_a_record_that_cannot_be_used_stops_the_start(tmp_path: Path) -> None:
    (tmp_path / "journal.sqlite").mkdir()
    with pytest.raises(JournalError):
        begun(load_kettle(kettle_at(tmp_path, "none")), load_profile(short_day(tmp_path)), tmp_path)


def test_the_code_is_in_no_plan_and_in_no_picture_of_the_file(tmp_path: Path) -> None:
    file = load_kettle(kettle_at(tmp_path, tmp_path / "none"))
    assert file.code == "4711"
    assert "4711" not in repr(file)
    assert "4711" not in repr(begun(file, load_profile(short_day(tmp_path)), tmp_path / "state"))
