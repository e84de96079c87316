"""Absences: no time is counted, a running batch is held, heat returns by a word at the kettle."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from kettlebridge.core.calls import CallKind
from kettlebridge.core.ledger import Grain
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import CommandKind
from kettlebridge.model.event import EventCode
from kettlebridge.model.inputs import Resumed
from kettlebridge.model.plan import AskKind, AskStep, BoilStep, RestStep
from kettlebridge.model.reading import BoardInput
from tests.core.bench_kettle import KETTLE, STRIKE, BenchKettle, plan_of

RUNS = (BatchState.RUNNING, BatchState.RESTARTING, BatchState.HOLDING)


def resting() -> BenchKettle:
    step = RestStep(name="r", at_c=66.0, for_min=60.0)
    bench = BenchKettle(plan_of(step), liquid_c=66.0, stage="hold", grain=Grain.IN)
    bench.run(5)
    return bench


@pytest.mark.parametrize("batch", BatchState)
def test_after_an_outage_a_batch_at_work_is_held_and_any_other_stays(batch: BatchState) -> None:
    bench = resting()
    bench.state = bench.state._replace(batch=batch, batch_since_s=bench.now_s)
    bench.tick(resumed=Resumed(away_s=300.0))
    assert bench.batch is (BatchState.HELD if batch in RUNS else batch)
    assert bench.off


def test_an_outage_is_why_it_is_held_and_no_old_reading_counts_any_more() -> None:
    bench = resting()
    bench.tick(resumed=Resumed(away_s=300.0))
    assert bench.state.hold_cause == "resumed"
    assert bench.state.evidence.control_c is None
    assert bench.tell(CommandKind.CARRY_ON) == "still_stale"
    bench.run(4)
    assert bench.tell(CommandKind.CARRY_ON) is None


def test_a_button_found_pressed_after_an_outage_carries_nothing_on() -> None:
    bench = resting()
    bench.inputs_on = BoardInput.CONFIRM
    bench.tick(resumed=Resumed(away_s=300.0))
    bench.run(10)
    assert bench.be(BatchState.HELD)


def test_a_gap_between_ticks_counts_no_time_and_holds_the_batch_once() -> None:
    bench = resting()
    counted_s = bench.state.stage.timer_s
    bench.tick(dt_s=30.0)
    assert bench.be(BatchState.HOLDING)
    bench.tick(dt_s=30.0)
    bench.tick(dt_s=30.0)
    bench.tick()
    assert bench.state.stage.timer_s == counted_s
    assert bench.state.hold_cause == "away"
    assert [event.get("to") for event in bench.of(EventCode.BATCH_STATE)] == ["Holding", "Held"]


def test_a_tick_of_five_seconds_is_late_but_no_absence() -> None:
    bench = resting()
    bench.tick(dt_s=5.0)
    assert bench.be(BatchState.RUNNING)


def test_two_ticks_at_one_instant_and_a_clock_that_goes_back_count_no_time() -> None:
    bench = resting()
    counted_s = bench.state.stage.timer_s
    bench.tick(dt_s=0.0)
    bench.tick(dt_s=-2.0)
    assert bench.state.stage.timer_s == counted_s
    assert bench.be(BatchState.RUNNING)


def test_two_ticks_at_one_instant_leave_the_heater_as_it_is() -> None:
    bench = BenchKettle(plan_of(STRIKE), stage="heat")
    bench.run(3)
    bench.tick(dt_s=0.0)
    assert bench.heater == 1000


def test_a_pause_near_the_boil_is_no_plateau() -> None:
    """Flat while the heater was off, full power a moment ago: nothing boils yet."""
    bench = BenchKettle(plan_of(BoilStep(name="b", for_min=60.0)), liquid_c=96.0, stage="approach")
    bench.run(90)
    bench.tell(CommandKind.HOLD)
    bench.run(90)
    bench.alive = False
    assert bench.tell(CommandKind.CARRY_ON) is None
    bench.run(55)
    assert bench.stage == "approach"


def test_after_a_pause_the_probe_must_be_seen_to_follow_again() -> None:
    """A plateau is believed of a probe that climbed with the heater: what it climbed before the pause is no proof."""
    bench = BenchKettle(plan_of(BoilStep(name="b", for_min=60.0)), liquid_c=96.0, stage="approach")
    bench.run(70)
    held_c = bench.liquid_c
    assert held_c > 97.2
    bench.tell(CommandKind.HOLD)
    bench.run(3)
    bench.reads = lambda: held_c + 0.03 * math.sin(bench.now_s)
    assert bench.tell(CommandKind.CARRY_ON) is None
    bench.run(150)
    assert bench.stage == "approach"


def test_carrying_on_in_the_tick_that_ends_an_outage_has_no_temperature_to_go_by() -> None:
    bench = resting()
    command = bench.command(CommandKind.CARRY_ON)
    bench.tick(command, resumed=Resumed(away_s=300.0))
    assert bench.verdict(command) == "no_temperature"


def test_a_button_found_pressed_after_an_outage_answers_no_call() -> None:
    bench = BenchKettle(plan_of(AskStep(name="stir", what=AskKind.STIR)), liquid_c=66.0, stage="hands_in")
    bench.run(5)
    bench.inputs_on = BoardInput.CONFIRM
    bench.tick(resumed=Resumed(away_s=300.0))
    assert bench.calls == [CallKind.ASK]


def test_a_button_found_pressed_after_a_lost_link_answers_no_call_though_the_last_word_is_kept() -> None:
    bench = BenchKettle(plan_of(AskStep(name="stir", what=AskKind.STIR)), liquid_c=66.0, stage="hands_in")
    bench.run(5)
    bench.state = bench.state._replace(health=replace(bench.health(), linked=False))
    bench.inputs_on = BoardInput.CONFIRM
    bench.tick()
    assert bench.calls == [CallKind.ASK]


def test_what_was_near_or_below_before_a_pause_does_not_count_after_it() -> None:
    bench = BenchKettle(plan_of(STRIKE, STRIKE), liquid_c=70.0, stage="heat")
    bench.run(20)
    bench.tell(CommandKind.HOLD)
    bench.run(60)
    bench.tell(CommandKind.CARRY_ON)
    bench.run(20)
    assert bench.state.stage.step_index == 0
    bench.run(30)
    assert bench.state.stage.step_index == 1


@pytest.mark.parametrize(("named", "goes_on"), [(BoardInput.NONE, False), (BoardInput.CONFIRM, True)])
def test_only_a_button_that_the_kettle_file_names_is_somebody_at_the_kettle(
    named: BoardInput, *, goes_on: bool
) -> None:
    bench = BenchKettle(plan_of(STRIKE, kettle=replace(KETTLE, inputs=named)), liquid_c=30.0, stage="heat")
    bench.run(5)
    bench.tell(CommandKind.HOLD)
    bench.run(10)
    bench.inputs_on = BoardInput.CONFIRM
    bench.run(1)
    assert (bench.batch is not BatchState.HELD) is goes_on


def test_a_stop_button_is_obeyed_though_no_file_names_it() -> None:
    bench = BenchKettle(plan_of(STRIKE, kettle=replace(KETTLE, inputs=BoardInput.NONE)), liquid_c=30.0, stage="heat")
    bench.run(5)
    bench.inputs_on = BoardInput.STOP
    bench.run(8)
    assert bench.batch is BatchState.ABORTED


@pytest.mark.parametrize("away_s", [0, 60, 3600])
def test_a_probe_that_is_heard_soon_after_the_board_is_back_was_never_late(away_s: int) -> None:
    bench = resting()
    bench.linked, bench.reads = False, lambda: None
    bench.tick(resumed=Resumed(away_s=300.0))
    bench.run(away_s)
    bench.linked = True
    bench.run(2)
    bench.reads = lambda: bench.liquid_c
    bench.run(20)
    assert bench.of(EventCode.ALARM_RAISED) == []
    assert bench.tell(CommandKind.CARRY_ON) is None


def test_a_probe_that_stays_silent_once_the_board_is_back_is_told_within_fifteen_seconds() -> None:
    bench = resting()
    bench.reads = lambda: None
    bench.tick(resumed=Resumed(away_s=300.0))
    bench.until(lambda: bench.alarms == ["stale"], within_s=15)
    assert bench.tell(CommandKind.CARRY_ON) == "still_stale"
    assert bench.off
