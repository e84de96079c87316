"""The beat, the order of a tick, verdicts, and a tick that raises."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from itertools import pairwise

import pytest

from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import CommandKind
from kettlebridge.model.reading import BoardInput
from kettlebridge.ports import Verdict
from kettlebridge.runtime.clock import PacedClock, run_paced
from kettlebridge.runtime.commands import KettleCommands
from kettlebridge.runtime.loop import MIN_GAP_S, TICK_FAILED, TickFailedError
from kettlebridge.runtime.recovery import Standing
from tests.runtime.fakes import (
    COPPER,
    START_UTC_S,
    Bench,
    FakeState,
    command,
    header,
    report,
    running,
    sample,
)


def on_bench(test: Callable[[PacedClock, Bench], Awaitable[None]]) -> None:
    async def main(clock: PacedClock) -> None:
        await test(clock, Bench(clock))

    run_paced(main, start_utc_s=START_UTC_S)


def test_beats_come_every_second_without_drift() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        await clock.sleep_until(0.3)
        async with running(bench.loop().run()):
            await clock.sleep_until(1000.5)
        assert bench.watching.times_s == [0.3 + k for k in range(1001)]
        assert [inputs.now_s for inputs in bench.fake.inputs] == pytest.approx(list(range(1001)))
        assert [entry.n for entry in bench.journal.entries] == list(range(1001))

    on_bench(test)


def test_missed_beats_are_left_out_not_made_up_for() -> None:
    class SuspendedClock(PacedClock):
        """The machine sleeps from 2.5 s to 7.2 s."""

        async def sleep_until(self, when_s: float) -> None:
            await super().sleep_until(7.2 if 2.5 < when_s < 7.2 else when_s)

    async def main() -> None:
        bench = Bench(clock)
        async with running(bench.loop().run()):
            await clock.sleep_until(9.5)
        assert bench.watching.times_s == [0.0, 1.0, 2.0, 7.2, 8.0, 9.0]

    clock = SuspendedClock(start_utc_s=START_UTC_S)
    with asyncio.Runner(loop_factory=clock.new_loop) as runner:
        runner.run(main())


def test_tick_is_told_what_was_heard_and_the_grant() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        bench.journal.failing_why = "disk full"
        async with running(bench.loop().run()):
            await clock.sleep_until(0.25)
            bench.inbox.linked()
            bench.inbox.hear((), report(0.25))
            await clock.sleep_until(0.5)
            bench.inbox.hear((sample(66.0, 0.25),), report(0.5))
            await clock.sleep_until(1.5)
        on_the_beat = bench.fake.inputs[2]
        assert on_the_beat.readings[0].value_c == 66.0
        assert on_the_beat.readings[0].age_s == 0.75
        assert on_the_beat.health.linked
        assert on_the_beat.at_utc_s == START_UTC_S + 1.0
        assert on_the_beat.heater_limit_fraction == 1.0
        assert on_the_beat.journal_failing
        assert on_the_beat.resumed is None

    on_bench(test)


def test_safety_input_is_seen_at_once_and_the_beat_goes_on() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        async with running(bench.loop().run()):
            bench.inbox.linked()
            await clock.sleep_until(1.4)
            bench.inbox.hear((), report(1.4, inputs=BoardInput.FOAM))
            await clock.sleep_until(2.5)
        assert bench.watching.times_s == [0.0, 1.0, 1.4, 2.0]

    on_bench(test)


def test_ticks_keep_a_least_distance_in_a_storm() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        async with running(bench.loop().run()):
            await clock.sleep_until(0.5)
            for k in range(100):
                bench.inbox.hear((), report(inputs=BoardInput.FOAM if k % 2 else BoardInput.NONE))
                await clock.sleep_until(0.5 + k / 1000)
        times_s = bench.watching.times_s
        gaps_s = [later - earlier for earlier, later in pairwise(times_s)]
        assert len(times_s) < 10
        assert min(gaps_s) >= MIN_GAP_S - 1e-9

    on_bench(test)


def test_demands_go_out_before_the_record_and_the_page() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        async with running(bench.loop().run()):
            await clock.sleep_until(1.5)
        assert bench.log == ["offer", "record", "publish"] * 2

    on_bench(test)


def test_taken_command_is_answered_once_its_tick_is_on_disk() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        bench.journal.lag_s = 0.3
        commands = KettleCommands({COPPER: bench.inbox})
        async with running(bench.loop().run()):
            await clock.sleep_until(1.5)
            verdict = await commands.submit(COPPER, command(CommandKind.START))
            assert clock.now_s() == pytest.approx(1.8)
            assert verdict == Verdict(refused=None, n=2, recorded=True)
        assert bench.bridge.offers[-1] == (1.5, 1000)

    on_bench(test)


def test_verdict_says_when_the_record_could_not_be_written() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        bench.journal.writes = False
        async with running(bench.loop().run()):
            verdict = await bench.inbox.submit(command(CommandKind.START))
        assert verdict == Verdict(refused=None, n=0, recorded=False)

    on_bench(test)


def test_refused_command_is_answered_with_the_reason() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        async with running(bench.loop().run()):
            verdict = await bench.inbox.submit(command(CommandKind.SKIP))
        assert verdict.refused == "no_step"

    on_bench(test)


@pytest.mark.parametrize("kind", [CommandKind.STOP_HEAT, CommandKind.HOLD, CommandKind.STOP])
def test_what_lowers_awaits_no_disk_and_no_beat(kind: CommandKind) -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        async with running(bench.loop().run()):
            await bench.inbox.submit(command(CommandKind.START, "go"))
            bench.journal.lag_s = 30.0
            await clock.sleep_until(2.4)
            verdict = await bench.inbox.submit(command(kind))
            assert clock.now_s() == 2.4
            assert (verdict.refused, verdict.recorded) == (None, False)
            assert bench.bridge.offers[-1] == (2.4, 0)

    on_bench(test)


def test_ticks_go_on_while_the_disk_stalls() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        bench.journal.lag_s = 30.0
        async with running(bench.loop().run()):
            verdict = bench.inbox.submit(command(CommandKind.START))
            await clock.sleep_until(10.5)
            assert not verdict.done()
            assert len(bench.bridge.offers) == 11
            await clock.sleep_until(31.0)
            assert verdict.result().recorded

    on_bench(test)


def test_nobody_waits_for_ever_when_the_loop_is_ended() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        bench.journal.lag_s = 30.0
        async with running(bench.loop().run()):
            verdict = bench.inbox.submit(command(CommandKind.START))
            await clock.sleep_until(1.5)
        await asyncio.sleep(0)
        assert verdict.result() == Verdict(refused=None, n=0, recorded=False)

    on_bench(test)


def test_client_that_leaves_takes_its_command_not_back() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        commands = KettleCommands({COPPER: bench.inbox})
        async with running(bench.loop().run()):
            await clock.sleep_until(1.5)
            client = asyncio.create_task(commands.submit(COPPER, command(CommandKind.START)))
            await asyncio.sleep(0)
            client.cancel()
            await clock.sleep_until(1.6)
        assert bench.watching.states[-1] is BatchState.RUNNING

    on_bench(test)


def test_client_that_leaves_takes_no_answer_from_another_that_sent_the_same() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        commands = KettleCommands({COPPER: bench.inbox})
        hasty, patient = (asyncio.create_task(commands.submit(COPPER, command(CommandKind.START))) for _ in range(2))
        await asyncio.sleep(0)
        hasty.cancel()
        async with running(bench.loop().run()):
            assert (await patient).recorded

    on_bench(test)


def test_commands_and_events_make_a_tick_urgent() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        async with running(bench.loop().run()):
            await clock.sleep_until(1.5)
            await bench.inbox.submit(command(CommandKind.START))
            await clock.sleep_until(2.5)
        assert [entry.urgent for entry in bench.journal.entries] == [False, False, True, False]

    on_bench(test)


def test_tick_that_raises_turns_all_off_and_the_next_one_holds() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        async with running(bench.loop().run()):
            await bench.inbox.submit(command(CommandKind.START))
            await clock.sleep_until(1.5)
            bench.fake.failures = 1
            await clock.sleep_until(2.5)
            assert bench.bridge.offs_s == [2.0]
            assert bench.bridge.offers[-1] == (1.0, 1000)
            await clock.sleep_until(3.5)
        held = bench.fake.inputs[-1].commands[0]
        assert (held.kind, held.who) == (CommandKind.HOLD, TICK_FAILED)
        assert bench.bridge.offers[-1] == (3.0, 0)
        assert bench.watching.states[-1] is BatchState.HELD
        assert [entry.n for entry in bench.journal.entries] == list(range(len(bench.journal.entries)))

    on_bench(test)


def test_tick_that_raises_refuses_what_raises_and_keeps_what_lowers() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        async with running(bench.loop().run()):
            await clock.sleep_until(1.5)
            bench.fake.failures = 1
            carry_on = bench.inbox.submit(command(CommandKind.CARRY_ON, "a"))
            stop_heat = bench.inbox.submit(command(CommandKind.STOP_HEAT, "b"))
            assert (await carry_on).refused == "tick_failed"
            assert not stop_heat.done()
            assert (await stop_heat).refused is None
            assert clock.now_s() == 2.0
        assert bench.watching.states[-1] is BatchState.ABORTED

    on_bench(test)


def test_second_raise_in_a_row_gives_up_and_leaves_nobody_waiting() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        loop = bench.loop()
        bench.fake.failures = 2
        stop_heat = bench.inbox.submit(command(CommandKind.STOP_HEAT))
        with pytest.raises(ExceptionGroup) as raised:
            await loop.run()
        assert raised.group_contains(TickFailedError)
        assert bench.bridge.offs_s == [0.0, 1.0]
        assert bench.bridge.offers == []
        assert stop_heat.result().refused == "tick_failed"
        assert loop.standing.state.n == 0

    on_bench(test)


def test_two_raises_with_a_good_tick_between_do_not_give_up() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        async with running(bench.loop().run()):
            for _ in range(3):
                bench.fake.failures = 1
                await clock.sleep_until(clock.now_s() + 2.0)
        assert len(bench.bridge.offs_s) == 3

    on_bench(test)


def test_crash_behind_the_decision_leaves_nobody_waiting() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        loop = bench.loop()
        verdict = bench.inbox.submit(command(CommandKind.START))
        bench.journal.record = None  # type: ignore[method-assign, assignment]  # calling it raises
        with pytest.raises(ExceptionGroup):
            await loop.run()
        assert verdict.result().refused == "interrupted"

    on_bench(test)


def test_record_is_closed_at_the_end_and_the_kettle_watched_on() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        bench.journal.lag_s = 0.2
        async with running(bench.loop().run()):
            await clock.sleep_until(1.5)
            await bench.inbox.submit(command(CommandKind.STOP))
            await clock.sleep_until(5.5)
            late = await bench.inbox.submit(command(CommandKind.CONFIRM, "late"))
        assert bench.ended == [BatchState.STOPPED]
        assert list(bench.journal.ends.values()) == [BatchState.STOPPED]
        assert [entry.n for entry in bench.journal.entries] == [0, 1, 2]
        assert len(bench.bridge.offers) == 8
        assert not late.recorded

    on_bench(test)


def test_resumed_batch_is_told_how_long_it_was_away_and_its_time_goes_on() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        await clock.sleep_until(900.0)
        state = FakeState(n=42, now_s=41.0, at_utc_s=START_UTC_S, batch=BatchState.RUNNING)
        async with running(bench.loop(Standing(header=header(), state=state)).run()):
            await clock.sleep_until(901.5)
        first, second = bench.fake.inputs
        assert first.resumed is not None
        assert first.resumed.away_s == 900.0
        assert (first.now_s, second.now_s, second.resumed) == (42.0, 43.0, None)
        assert [entry.n for entry in bench.journal.entries] == [42, 43]

    on_bench(test)


def test_resumption_is_told_again_when_the_tick_that_was_told_raised() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        state = FakeState(n=42, now_s=41.0, at_utc_s=START_UTC_S, batch=BatchState.RUNNING)
        bench.fake.failures = 1
        async with running(bench.loop(Standing(header=header(), state=state)).run()):
            await clock.sleep_until(1.5)
        assert [inputs.resumed is not None for inputs in bench.fake.inputs] == [True, True]

    on_bench(test)


def test_wall_clock_set_back_makes_no_negative_absence() -> None:
    state = FakeState(n=42, now_s=41.0, at_utc_s=START_UTC_S, batch=BatchState.RUNNING)
    resumed = Standing(header=header(), state=state).resumed(START_UTC_S - 3600.0)
    assert resumed is not None
    assert resumed.away_s == 0.0


def test_batch_without_a_tick_has_nothing_to_resume() -> None:
    state = FakeState(n=0, now_s=0.0, at_utc_s=0.0, batch=BatchState.IDLE)
    assert Standing(header=header(), state=state).resumed(START_UTC_S) is None


def test_guard_hears_of_finished_ticks_only() -> None:
    async def test(clock: PacedClock, bench: Bench) -> None:
        async with running(bench.loop().run()):
            await clock.sleep_until(1.5)
            assert bench.guard.ticks == 2
            bench.fake.failures = 1
            await clock.sleep_until(2.5)
            assert bench.guard.ticks == 2

    on_bench(test)
