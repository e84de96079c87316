"""Links that come and go, crashes that stay where they are, and batches that come back."""

from __future__ import annotations

import asyncio
import logging
from dataclasses import replace
from itertools import pairwise

import pytest

from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import CommandKind
from kettlebridge.model.errors import LinkReason
from kettlebridge.model.ids import BatchId, KettleId
from kettlebridge.runtime.clock import PacedClock, run_paced
from kettlebridge.runtime.keeper import BackOff
from tests.runtime.fakes import COPPER, COPPER_1, START_UTC_S, Bench, FakeJournal, command, header, running, until
from tests.runtime.test_loop import on_bench

TIN = KettleId("tin")


def test_back_off_doubles_to_its_longest_and_starts_small_after_a_long_success() -> None:
    back_off = BackOff(first_s=0.5, longest_s=10.0)
    assert [back_off.after(0.0) for _ in range(7)] == [0.5, 1.0, 2.0, 4.0, 8.0, 10.0, 10.0]
    assert back_off.after(9.9) == 10.0
    assert back_off.after(10.0) == 0.5


def test_absent_board_is_tried_again_with_back_off_while_ticks_go_on() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        bench.bridge.sessions = [-1.0] * 7
        async with running(bench.keeper().run()):
            await clock.sleep_until(60.0)
        tries_s = bench.bridge.tries_s
        assert [after - before for before, after in pairwise(tries_s)] == [
            0.5,
            1.0,
            2.0,
            4.0,
            8.0,
            10.0,
            10.0,
        ]
        linked = [inputs.health.linked for inputs in bench.fake.inputs]
        assert linked.index(True) == 36
        assert all(linked[36:])

    on_bench(test)


def test_flapping_link_is_tried_ever_less_often() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        bench.bridge.sessions = [0.25] * 100
        async with running(bench.keeper().run()):
            await clock.sleep_until(300.0)
        assert len(bench.bridge.tries_s) < 40

    on_bench(test)


def test_link_lost_after_a_long_session_is_sought_at_once() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        bench.bridge.sessions = [-1.0, -1.0, -1.0, 100.0]
        async with running(bench.keeper().run()):
            await clock.sleep_until(200.0)
        assert bench.bridge.tries_s[-1] - bench.bridge.tries_s[-2] == 100.5

    on_bench(test)


def test_loss_wakes_a_tick_that_knows_it(caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.INFO)

    async def test(clock: PacedClock, bench: Bench) -> None:
        bench.bridge.sessions = [20.25]
        async with running(bench.keeper().run()):
            await clock.sleep_until(30.0)
        lost = next(k for k, inputs in enumerate(bench.fake.inputs[1:], 1) if not inputs.health.linked)
        assert bench.watching.times_s[lost] == 20.25
        assert bench.fake.inputs[-1].health.linked

    on_bench(test)
    lines = [record.getMessage() for record in caplog.records if "board" in record.getMessage()]
    assert lines == [
        "kettle copper: the board is there",
        "kettle copper: no board: lost: hung up",
        "kettle copper: the board is there",
    ]


def test_first_try_tells_why_there_is_no_board() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        bench.bridge.sessions = [-1.0]
        keeper = bench.keeper()
        async with running(keeper.run()):
            failed = await keeper.first_try()
            assert failed is not None
            assert failed.reason is LinkReason.NO_PORT
            await until(clock, lambda: bench.bridge.standing)
            assert await keeper.first_try() is None

    on_bench(test)


def test_orderly_end_tells_the_board_while_the_wire_still_stands() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        async with running(bench.keeper().run()):
            await clock.sleep_until(2.5)
        assert bench.log[-1] == "all off, wire stands"
        assert not bench.bridge.standing
        assert bench.guard.gone == [COPPER]

    on_bench(test)


def test_tick_that_keeps_raising_comes_back_held_after_a_back_off() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        async with running(bench.keeper().run()):
            await bench.inbox.submit(command(CommandKind.START))
            await clock.sleep_until(5.5)
            assert bench.bridge.offers[-1] == (5.0, 1000)
            bench.fake.failures = 2
            await clock.sleep_until(7.5)
            assert bench.log[-2:] == ["all off, wire stands", "all off, wire stands"]
            await clock.sleep_until(8.5)
        assert bench.bridge.offers[-1] == (8.0, 0)
        assert bench.watching.states[-1] is BatchState.HELD
        last = bench.journal.entries[-1]
        assert last.inputs.resumed is not None
        assert last.inputs.resumed.away_s == 3.0
        assert last.inputs.now_s == bench.journal.entries[-2].inputs.now_s + 1.0
        assert [entry.n for entry in bench.journal.entries] == list(range(len(bench.journal.entries)))

    on_bench(test)


def test_command_that_raises_is_not_carried_over_a_crash_but_stop_heat_is() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        async with running(bench.keeper().run()):
            await clock.sleep_until(1.5)
            bench.fake.failures = 2
            await clock.sleep_until(3.5)
            carry_on = bench.inbox.submit(command(CommandKind.CARRY_ON, "a"))
            stop_heat = bench.inbox.submit(command(CommandKind.STOP_HEAT, "b"))
            assert (await carry_on).refused == "restarted"
            assert (await stop_heat).refused is None
        assert bench.watching.states[-1] is BatchState.ABORTED

    on_bench(test)


def test_crash_of_one_driver_leaves_the_other_kettle_untouched() -> None:
    async def main(clock: PacedClock) -> None:
        journal = FakeJournal(clock)
        broken, sound = Bench(clock, COPPER, journal), Bench(clock, TIN, journal)
        broken.bridge.sessions = [ValueError("a bug in the driver"), ValueError("and again")]
        async with running(broken.keeper().run()), running(sound.keeper().run()):
            await sound.inbox.submit(command(CommandKind.START))
            await clock.sleep_until(30.5)
        assert sound.watching.times_s == [float(k) for k in range(31)]
        assert sound.bridge.offers[1:] == [(float(k), 1000) for k in range(1, 31)]
        assert sound.bridge.tries_s == [0.0]
        assert broken.bridge.tries_s == [0.0, 2.0, 5.0]
        assert broken.watching.states[-1] is BatchState.HELD

    run_paced(main, start_utc_s=START_UTC_S)


def test_new_batch_is_begun_at_the_wall_time_of_its_first_tick() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        await clock.sleep_until(60.0)
        async with running(bench.keeper().run()):
            await clock.sleep_until(61.5)
        (header,) = bench.journal.headers.values()
        assert header.started_utc_s == START_UTC_S + 60.0
        assert bench.fake.inputs[0].resumed is None

    on_bench(test)


def test_batch_whose_record_cannot_be_begun_never_ticks_until_it_can() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        bench.journal.refuse_begin = True
        async with running(bench.keeper().run()):
            await clock.sleep_until(10.0)
            assert bench.log == []
            bench.journal.refuse_begin = False
            await until(clock, lambda: bench.watching.told)

    on_bench(test)


def test_batch_of_an_earlier_process_comes_back_from_its_record() -> None:
    async def main(clock: PacedClock) -> None:
        journal = FakeJournal(clock)
        before = Bench(clock, COPPER, journal)
        async with running(before.keeper().run()):
            await before.inbox.submit(command(CommandKind.START))
            await clock.sleep_until(100.5)
        await clock.sleep_until(700.0)
        after = Bench(clock, COPPER, journal)
        async with running(after.keeper().run()):
            await clock.sleep_until(701.5)
        assert after.watching.states == [BatchState.HELD, BatchState.HELD]
        assert [permille for _, permille in after.bridge.offers] == [0, 0]
        assert len(journal.headers) == 1
        resumed = next(entry.inputs for entry in journal.entries if entry.inputs.resumed)
        assert resumed.resumed is not None
        assert (resumed.resumed.away_s, resumed.now_s) == (600.0, 101.0)

    run_paced(main, start_utc_s=START_UTC_S)


def test_batch_that_lost_ticks_is_closed_and_a_new_one_begins(caplog: pytest.LogCaptureFixture) -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        old = replace(header(), batch=BatchId("copper-0"))
        bench.journal.headers[old.batch] = old
        bench.journal.incomplete_from = 99
        async with running(bench.keeper().run()):
            await clock.sleep_until(1.5)
        assert bench.journal.ends == {old.batch: BatchState.ABORTED}
        assert [(entry.batch, entry.n) for entry in bench.journal.entries] == [(COPPER_1, 0), (COPPER_1, 1)]

    on_bench(test)
    assert "batch copper-0 is incomplete from tick 99" in caplog.text


def test_end_of_the_batch_is_told() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        keeper = bench.keeper()
        async with running(keeper.run()):
            await bench.inbox.submit(command(CommandKind.STOP))
            assert await keeper.ended() is BatchState.STOPPED

    on_bench(test)


def test_closing_leaves_nobody_waiting() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        async with running(bench.keeper().run()):
            bench.fake.failures = 2
            await clock.sleep_until(1.5)
            stop_heat = bench.inbox.submit(command(CommandKind.STOP_HEAT))
            await clock.sleep_until(1.6)
        assert stop_heat.result().refused == "closed"

    on_bench(test)


def test_every_task_of_a_kettle_is_named() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        async with running(bench.keeper().run()):
            await clock.sleep_until(1.5)
            names = {task.get_name() for task in asyncio.all_tasks()}
        assert {"copper: link", "copper: beat"} <= names

    on_bench(test)
