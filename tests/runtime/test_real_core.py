"""The loop, the record and the core that serves, together."""

from __future__ import annotations

import asyncio
from dataclasses import replace

import pytest

from kettlebridge.app import CORE
from kettlebridge.core.state import State
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import CommandKind
from kettlebridge.model.ids import BatchId
from kettlebridge.model.kettle import Probe, ProbeRole
from kettlebridge.model.plan import HeatStep, Plan
from kettlebridge.ports import BatchHeader, Verdict
from kettlebridge.runtime.clock import PacedClock, run_paced
from kettlebridge.runtime.keeper import Charge, Keeper, Rooms
from kettlebridge.runtime.loop import TickLoop, Wires
from kettlebridge.runtime.recovery import Standing, recover
from kettlebridge.runtime.replay import event_hash, replay
from tests.runtime.fakes import (
    COPPER,
    COPPER_1,
    MASH,
    START_UTC_S,
    Bench,
    command,
    header,
    plan,
    report,
    running,
    sample,
)


def heating() -> Plan:
    fake = plan()
    probe = Probe(name=MASH, source="28A1B2C3040506B4", role=ProbeRole.CONTROL)
    return Plan(
        kettle=replace(fake.kettle, probes=(probe,)),
        profile=replace(fake.profile, steps=(HeatStep(name="strike", to_c=70.0),)),
    )


def loop_of(bench: Bench, standing: Standing[State] | None = None) -> TickLoop[State]:
    wires = Wires(
        clock=bench.clock,
        inbox=bench.inbox,
        bridge=bench.bridge,
        journal=bench.journal,
        publisher=bench.fan_out,
        guard=bench.guard,
        grant=lambda: 1.0,
    )
    begun = replace(header(), plan=heating())
    bench.journal.headers[COPPER_1] = begun
    fresh = Standing(header=begun, state=CORE.initial(begun.plan))
    return TickLoop(CORE, wires, standing or fresh, bench.ended.append)


async def feed(clock: PacedClock, bench: Bench) -> None:
    """A board that speaks twice a second, with a probe at 20 °C."""
    bench.inbox.linked()
    while True:
        now_s = clock.now_s()
        bench.inbox.hear((sample(20.0, now_s - 0.2),), report(now_s))
        await clock.sleep_until(now_s + 0.5)


def test_recorded_run_folds_to_the_same_state_and_replays_to_the_same_hash() -> None:
    async def main(clock: PacedClock) -> None:
        bench = Bench(clock)
        loop = loop_of(bench)
        async with running(feed(clock, bench)), running(loop.run()):
            await clock.sleep_until(10.25)
            started = await bench.inbox.submit(command(CommandKind.START, "go"))
            again = await bench.inbox.submit(command(CommandKind.START, "go"))
            refused = await bench.inbox.submit(command(CommandKind.EXTEND, "more"))
            await clock.sleep_until(30.5)
            stopped = await bench.inbox.submit(command(CommandKind.STOP_HEAT, "stop"))
            await clock.sleep_until(40.5)
        assert started == Verdict(refused=None, n=11, recorded=True)
        assert again.refused is None
        assert refused.refused == "no_timer"
        assert stopped.refused is None
        assert BatchState.RUNNING in bench.watching.states
        assert bench.watching.states[-1] is BatchState.ABORTED

        standing = await recover(CORE, bench.journal, COPPER)
        assert standing is not None
        assert standing.state == loop.standing.state
        recorded = list(bench.journal.events(COPPER_1))
        replayed = replay(CORE, heating(), bench.journal.ticks(COPPER_1), recorded)
        assert replayed.difference is None
        assert replayed.event_hash == event_hash(recorded)
        assert len(recorded) > 5

    run_paced(main, start_utc_s=START_UTC_S)


def test_running_batch_comes_back_held_with_the_heater_off() -> None:
    async def main(clock: PacedClock) -> None:
        bench = Bench(clock)
        async with running(feed(clock, bench)):
            async with running(loop_of(bench).run()):
                await clock.sleep_until(10.5)
                await bench.inbox.submit(command(CommandKind.START))
                await clock.sleep_until(20.5)
            ran = bench.watching.states[-1]
            await clock.sleep_until(300.0)
            standing = await recover(CORE, bench.journal, COPPER)
            bench.bridge.offers.clear()
            async with running(loop_of(bench, standing).run()):
                await clock.sleep_until(310.0)
        assert (ran, bench.watching.states[-1]) == (BatchState.RUNNING, BatchState.HELD)
        assert {permille for _, permille in bench.bridge.offers} == {0}

    run_paced(main, start_utc_s=START_UTC_S)


class Following:
    """A keeper of the core that serves, whose batches are called by their number."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.opened: list[BatchHeader] = []
        self._sent = 0
        rooms = Rooms(
            clock=bench.clock,
            core=CORE,
            journal=bench.journal,
            records=bench.journal,
            publisher=bench.fan_out,
            guard=bench.guard,
        )
        charge = Charge(inbox=bench.inbox, bridge=bench.bridge, new_batch=self.new, grant=lambda: 1.0)
        self.keeper = Keeper(COPPER, rooms, charge)

    def new(self, at_utc_s: float) -> BatchHeader:
        name = BatchId(f"batch {len(self.opened) + 1}")
        self.opened.append(replace(header(started_utc_s=at_utc_s), batch=name, plan=heating()))
        return self.opened[-1]

    async def told(self, kind: CommandKind, *, at_kettle: bool = False) -> str | None:
        self._sent += 1
        asked = replace(command(kind, f"{self._sent}"), at_kettle=at_kettle)
        return (await self.bench.inbox.submit(asked)).refused


def test_a_stop_of_all_heat_is_left_to_the_next_batch_and_stands_in_its_record() -> None:
    async def main(clock: PacedClock) -> None:
        bench = Bench(clock)
        kettle = Following(bench)
        async with running(feed(clock, bench)), running(kettle.keeper.run()):
            await clock.sleep_until(10.25)
            for kind in (CommandKind.START, CommandKind.STOP_HEAT, CommandKind.STOP):
                assert await kettle.told(kind) is None
                await clock.sleep_until(clock.now_s() + 8.0)
            assert kettle.keeper.begin_anew()
            await clock.sleep_until(clock.now_s() + 8.0)
            assert await kettle.told(CommandKind.START) == "at_kettle_only"
            standing = await recover(CORE, bench.journal, COPPER)
            assert standing is not None
            assert [record.cause for record in standing.state.alarms] == ["heat_stopped"]
            assert standing.header.batch == "batch 2"
            assert await kettle.told(CommandKind.START, at_kettle=True) is None

    run_paced(main, start_utc_s=START_UTC_S)


def test_what_was_told_to_a_batch_that_makes_way_does_not_start_the_next_one() -> None:
    async def main(clock: PacedClock) -> None:
        bench = Bench(clock)
        kettle = Following(bench)
        async with running(feed(clock, bench)), running(kettle.keeper.run()):
            await clock.sleep_until(10.25)
            assert kettle.keeper.begin_anew()
            start, stop = bench.inbox.submit(command(CommandKind.START)), bench.inbox.submit(command(CommandKind.STOP))
            assert (await start).refused == "seen_in_another_batch"
            assert (await stop).refused is None
            await clock.sleep_until(20.0)
        assert [one.batch for one in kettle.opened] == ["batch 1", "batch 2"]
        assert BatchState.RUNNING not in bench.watching.states

    run_paced(main, start_utc_s=START_UTC_S)


def test_a_service_that_ends_in_the_turn_in_which_a_batch_makes_way_ends() -> None:
    async def main(clock: PacedClock) -> None:
        bench = Bench(clock)
        kettle = Following(bench)
        keeping = asyncio.create_task(kettle.keeper.run())
        async with running(feed(clock, bench)):
            await clock.sleep_until(5.25)
            assert kettle.keeper.begin_anew()
            keeping.cancel()
            await clock.sleep_until(20.0)
            keeping.cancel()
            assert (keeping.done(), len(kettle.opened)) == (True, 1)

    run_paced(main, start_utc_s=START_UTC_S)


def test_while_the_record_fails_no_batch_makes_way() -> None:
    async def main(clock: PacedClock) -> None:
        bench = Bench(clock)
        kettle = Following(bench)
        async with running(feed(clock, bench)), running(kettle.keeper.run()):
            await clock.sleep_until(5.25)
            bench.journal.failing_why = "the disk is full"
            assert not kettle.keeper.begin_anew()
            await clock.sleep_until(8.0)
            assert (len(kettle.opened), bench.journal.ends) == (1, {})
            bench.journal.failing_why = None
            assert kettle.keeper.begin_anew()
            await clock.sleep_until(10.0)
            assert len(kettle.opened) == 2

    run_paced(main, start_utc_s=START_UTC_S)


def test_a_batch_that_made_way_does_not_come_back_while_its_end_is_on_its_way_to_the_disk(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    async def no_end_yet(batch: BatchId, state: BatchState) -> None:
        assert (batch, state) == ("batch 1", BatchState.STOPPED)

    async def main(clock: PacedClock) -> None:
        bench = Bench(clock)
        kettle = Following(bench)
        monkeypatch.setattr(bench.journal, "end", no_end_yet)
        async with running(feed(clock, bench)), running(kettle.keeper.run()):
            await clock.sleep_until(5.25)
            assert kettle.keeper.begin_anew()
            await clock.sleep_until(10.0)
            assert [one.batch for one in kettle.opened] == ["batch 1", "batch 2"]
            assert bench.journal.entries[-1].batch == "batch 2"

    run_paced(main, start_utc_s=START_UTC_S)
