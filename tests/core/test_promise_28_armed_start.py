"""Promise 28: an armed start that is not in order stays cold and says so; merely slow heating goes on."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from kettlebridge.core.calls import CallKind
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import CommandKind
from kettlebridge.model.event import EventCode
from kettlebridge.model.inputs import Resumed
from tests.core.leased_bench import LeasedBench, ready_plan

COLD = "stays_cold"
TO_READY_S = 5400.0


def armed(liquid_c: float = 50.0) -> LeasedBench:
    """A kettle that was armed and would heat within the hour."""
    bench = LeasedBench(ready_plan(to_ready_s=TO_READY_S), liquid_c=liquid_c)
    bench.run(3)
    bench.arm()
    return bench


def suspended(bench: LeasedBench) -> None:
    bench.tick(dt_s=7200.0)


def service_away(bench: LeasedBench) -> None:
    bench.tick(resumed=Resumed(away_s=60.0))


def probe_silent(bench: LeasedBench) -> None:
    bench.reads = lambda: None
    bench.run(6)
    bench.reads = lambda: bench.liquid_c


def probe_implausible(bench: LeasedBench) -> None:
    bench.reads = lambda: -127.0
    bench.run(6)
    bench.reads = lambda: bench.liquid_c


def board_away(bench: LeasedBench) -> None:
    bench.linked = False
    bench.mute, bench.back_s = True, bench.now_s + 8.0
    bench.reads = lambda: None
    bench.run(8)
    bench.linked, bench.reads = True, lambda: bench.liquid_c


def board_starts_anew(bench: LeasedBench) -> None:
    bench.booted_s = bench.now_s
    bench.run(2)


def clock_set(bench: LeasedBench) -> None:
    bench.clock_set_s = 3600.0


def clock_set_back(bench: LeasedBench) -> None:
    bench.clock_set_s = -3600.0


def paused(bench: LeasedBench) -> None:
    bench.tell(CommandKind.HOLD)


def water_added(bench: LeasedBench) -> None:
    bench.tell(CommandKind.ADDING_WATER, litres=2.0)


DOUBTS: dict[str, tuple[Callable[[LeasedBench], None], str]] = {
    "the host slept": (suspended, "arm_left_running"),
    "the service was away": (service_away, "arm_left_running"),
    "the probe was silent": (probe_silent, "arm_left_running"),
    "the probe told nonsense": (probe_implausible, "arm_left_running"),
    "the board was away": (board_away, "arm_left_running"),
    "the board started anew": (board_starts_anew, "arm_board_restarted"),
    "the clock was put forward": (clock_set, "arm_clock_jumped"),
    "the clock was put back": (clock_set_back, "arm_clock_jumped"),
    "somebody paused": (paused, "arm_left_running"),
    "somebody added water": (water_added, "arm_liquid_changed"),
}


@pytest.mark.parametrize("doubt", DOUBTS)
def test_after_a_doubt_it_stays_cold_and_says_so(doubt: str) -> None:
    happens, reason = DOUBTS[doubt]
    bench = armed()
    happens(bench)
    bench.run(5)
    assert (bench.armed, bench.refused) == (False, reason)
    assert bench.alarms
    for _ in range(200):
        bench.tick(dt_s=4.0)
        assert bench.off


@pytest.mark.parametrize("doubt", DOUBTS)
def test_a_paused_day_that_goes_on_is_not_armed_by_that(doubt: str) -> None:
    happens, _ = DOUBTS[doubt]
    bench = armed()
    happens(bench)
    bench.run(12)
    if bench.batch is BatchState.HELD:
        assert bench.tell(CommandKind.CARRY_ON) is None
        bench.until(lambda: bench.batch is BatchState.RUNNING, within_s=10)
    bench.run(5)
    assert (bench.batch, bench.armed, bench.off) == (BatchState.RUNNING, False, True)
    assert COLD in bench.alarms


def test_one_that_was_never_armed_stays_cold_at_the_hour_with_an_alarm_and_a_call() -> None:
    bench = LeasedBench(ready_plan(to_ready_s=600.0), liquid_c=66.0)
    bench.run(60)
    assert bench.alarms == []
    bench.until(lambda: COLD in bench.alarms, within_s=600.0)
    assert bench.calls == [CallKind.COLD]
    bench.run(120)
    assert (bench.stage, bench.off) == ("wait", True)


def test_somebody_at_the_kettle_heats_it_all_the_same() -> None:
    bench = LeasedBench(ready_plan(to_ready_s=60.0), liquid_c=40.0)
    bench.run(5)
    assert bench.confirm(CallKind.COLD, at_kettle=False) == "at_kettle_only"
    assert bench.confirm(CallKind.COLD) is None
    bench.tell(CommandKind.ACKNOWLEDGE)
    bench.run(5)
    assert (bench.heater, bench.alarms) == (1000, [])


def test_armed_again_the_alarm_ends() -> None:
    bench = armed()
    board_starts_anew(bench)
    bench.run(3)
    bench.tell(CommandKind.ACKNOWLEDGE)
    bench.arm()
    bench.tick()
    assert bench.alarms == []


def test_an_arming_that_ends_while_it_heats_takes_the_heat() -> None:
    bench = armed(liquid_c=66.0)
    bench.until(lambda: bench.heater > 0, within_s=TO_READY_S)
    bench.tell(CommandKind.DISARM)
    bench.run(2)
    assert (bench.stage, bench.off) == ("wait", True)


def test_one_armed_too_late_to_be_in_time_heats_and_says_by_how_much() -> None:
    bench = LeasedBench(ready_plan(to_ready_s=600.0), liquid_c=40.0)
    bench.run(3)
    bench.arm()
    bench.until(lambda: bench.heater > 0, within_s=10)
    assert float(str(bench.of(EventCode.READY_LATE)[0].get("late_s"))) > 300.0


def test_a_blink_of_the_line_disarms_nothing() -> None:
    bench = armed()
    bench.mute, bench.back_s = True, bench.now_s + 2.5
    bench.run(6)
    assert bench.armed
