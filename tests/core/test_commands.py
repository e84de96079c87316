"""What each command does, and what it is refused for."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kettlebridge.core.calls import CallKind
from kettlebridge.core.commands import RAISING_AGE_TICKS, REMEMBERED
from kettlebridge.core.forecast import forecast
from kettlebridge.core.ledger import Grain
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import LOWERING, Command, CommandKind
from kettlebridge.model.event import EventCode
from kettlebridge.model.ids import CommandId
from kettlebridge.model.plan import (
    AnyStep,
    AskKind,
    AskStep,
    BoilStep,
    ChillStep,
    CirculateStep,
    HopStandStep,
    RestStep,
)
from kettlebridge.model.reading import BoardInput
from tests.core.bench_kettle import KETTLE, REST, STRIKE, BenchKettle, plan_of

NAN = float("nan")
ASKED = AskStep(name="other", what=AskKind.OTHER)
LONG_REST = RestStep(name="rest", at_c=66.0, for_min=60.0)


def heating() -> BenchKettle:
    bench = BenchKettle(plan_of(STRIKE, LONG_REST), liquid_c=60.0, stage="heat")
    bench.run(2)
    return bench


def resting() -> BenchKettle:
    bench = BenchKettle(plan_of(LONG_REST, REST, ASKED), liquid_c=66.0, stage="hold", grain=Grain.IN)
    bench.run(2)
    return bench


class TestStart:
    """Beginning, and beginning again after a stop."""

    def test_the_first_start_needs_a_temperature_and_may_come_from_anywhere(self) -> None:
        bench = BenchKettle(plan_of(STRIKE))
        bench.tick()
        assert bench.tell(CommandKind.START, at_kettle=False) == "no_temperature"
        bench.run(4)
        assert bench.tell(CommandKind.START, at_kettle=False) is None
        assert bench.be(BatchState.RUNNING)

    def test_an_empty_profile_has_nothing_to_start(self) -> None:
        bench = BenchKettle(plan_of())
        bench.run(5)
        assert bench.tell(CommandKind.START) == "nothing_left"

    def test_a_start_after_reset_is_held_to_the_same_conditions_as_carrying_on(self) -> None:
        bench = heating()
        bench.tell(CommandKind.STOP_HEAT)
        bench.run(6)
        bench.tell(CommandKind.RESET)
        bench.liquid_c = 103.0
        bench.run(12)
        assert bench.tell(CommandKind.START) == "still_over_limit"


class TestWhatABatchLeavesOver:
    """A safety alarm, and that all heat was stopped, outlive the batch: only at the kettle they are reset."""

    @staticmethod
    def after(bench: BenchKettle) -> BenchKettle:
        """The kettle's next batch, once there is a temperature."""
        safety = tuple(record for record in bench.state.alarms if record.safety)
        following = BenchKettle(replace(plan_of(STRIKE), left_over=safety))
        following.run(5)
        return following

    def test_a_batch_ended_after_a_stop_of_all_heat_is_followed_by_one_that_begins_at_the_kettle(self) -> None:
        bench = heating()
        bench.tell(CommandKind.STOP_HEAT, at_kettle=False)
        bench.run(6)
        assert bench.tell(CommandKind.STOP, at_kettle=False) is None
        assert bench.alarms == ["heat_stopped"]
        following = self.after(bench)
        assert following.tell(CommandKind.START, at_kettle=False) == "at_kettle_only"
        assert following.be(BatchState.IDLE)
        assert following.tell(CommandKind.START) is None
        assert following.be(BatchState.RUNNING)
        assert "heat_stopped" not in following.alarms

    def test_a_trip_that_was_not_reset_is_handed_on(self) -> None:
        kettle = replace(KETTLE, inputs=KETTLE.inputs | BoardInput.CUTOUT)
        bench = BenchKettle(plan_of(STRIKE, kettle=kettle), liquid_c=60.0, stage="heat")
        bench.inputs_on = BoardInput.CUTOUT
        bench.run(8)
        bench.inputs_on = BoardInput.NONE
        bench.run(2)
        bench.tell(CommandKind.STOP, at_kettle=False)
        bench.run(6)
        assert (bench.batch, bench.alarms) == (BatchState.STOPPED, ["cut_out"])
        following = self.after(bench)
        assert following.tell(CommandKind.ACKNOWLEDGE, at_kettle=False) is None
        assert following.tell(CommandKind.START, at_kettle=False) == "at_kettle_only"
        assert following.tell(CommandKind.START) is None

    def test_a_stop_that_was_reset_at_the_kettle_leaves_nothing(self) -> None:
        bench = heating()
        bench.tell(CommandKind.STOP_HEAT)
        bench.run(6)
        bench.tell(CommandKind.RESET)
        bench.tell(CommandKind.STOP, at_kettle=False)
        assert bench.alarms == []

    def test_an_alarm_in_a_batch_not_begun_is_reset_by_no_start_from_afar(self) -> None:
        bench = BenchKettle(plan_of(STRIKE))
        bench.run(5)
        bench.pins = lambda board: replace(board, main_contactor_closed=True)
        bench.run(5)
        bench.pins = lambda board: board
        bench.run(3)
        assert bench.alarms == ["beyond_told"]
        assert bench.tell(CommandKind.START, at_kettle=False) == "at_kettle_only"
        assert bench.alarms == ["beyond_told"]


class TestAStopButtonThatIsStillPressed:
    """Nothing leads back to heat that would come when the button is let out."""

    @pytest.mark.parametrize(
        ("before", "back"),
        [
            (CommandKind.STOP_HEAT, CommandKind.RESET),
            (CommandKind.HOLD, CommandKind.CARRY_ON),
        ],
    )
    def test_refuses_what_leads_back(self, before: CommandKind, back: CommandKind) -> None:
        bench = heating()
        bench.tell(before)
        bench.run(6)
        held = bench.state
        bench.state = held._replace(inputs_on=BoardInput.STOP)
        bench.inputs_on = BoardInput.STOP
        assert bench.tell(back) == "stop_still_pressed"
        assert bench.batch is held.batch
        bench.inputs_on = BoardInput.NONE
        bench.tick()
        assert bench.tell(back) is None

    def test_refuses_a_start(self) -> None:
        bench = BenchKettle(plan_of(STRIKE))
        bench.run(5)
        bench.state = bench.state._replace(inputs_on=BoardInput.STOP)
        bench.inputs_on = BoardInput.STOP
        assert bench.tell(CommandKind.START) == "stop_still_pressed"

    def test_heats_nothing_when_it_is_let_out_unless_somebody_says_so_then(self) -> None:
        bench = heating()
        bench.inputs_on = BoardInput.STOP
        bench.run(8)
        for kind in (CommandKind.RESET, CommandKind.START):
            bench.tell(kind)
        bench.inputs_on = BoardInput.NONE
        bench.run(30)
        assert (bench.batch, bench.off) == (BatchState.ABORTED, True)
        assert bench.tell(CommandKind.RESET) is None

    def test_is_nobodys_word_on_a_kettle_that_has_no_such_button(self) -> None:
        kettle = replace(KETTLE, inputs=KETTLE.inputs & ~BoardInput.STOP)
        bench = BenchKettle(plan_of(STRIKE, kettle=kettle))
        bench.run(5)
        bench.state = bench.state._replace(inputs_on=BoardInput.STOP)
        bench.inputs_on = BoardInput.STOP
        assert bench.tell(CommandKind.START) is None


class TestAge:
    """In view of which snapshot a command was given."""

    @pytest.mark.parametrize("kind", sorted(set(CommandKind) - LOWERING, key=str))
    def test_what_was_given_in_view_of_an_old_snapshot_is_refused(self, kind: CommandKind) -> None:
        bench = resting()
        bench.run(RAISING_AGE_TICKS)
        before = bench.state
        verdict = bench.tell(kind, seen_n=0, minutes=5.0, target_c=50.0, litres=1.0, on=True)
        assert verdict == "seen_too_long_ago" or (verdict or "").startswith("not_in_")
        assert bench.state.stage.extra_s == before.stage.extra_s
        assert bench.batch is before.batch

    def test_a_view_of_the_present_is_good_for_ten_ticks(self) -> None:
        bench = resting()
        n = bench.state.n
        bench.run(RAISING_AGE_TICKS)
        assert bench.tell(CommandKind.EXTEND, minutes=5.0, seen_n=n) is None
        assert bench.tell(CommandKind.EXTEND, minutes=5.0, seen_n=n) == "seen_too_long_ago"

    def test_a_number_that_this_batch_has_not_reached_is_another_batchs(self) -> None:
        bench = resting()
        assert bench.tell(CommandKind.EXTEND, minutes=5.0, seen_n=20_000) == "seen_in_another_batch"


class TestTwice:
    """One id, one act."""

    def test_the_same_id_twice_acts_once_and_is_answered_twice(self) -> None:
        bench = resting()
        more = Command(id=CommandId("more"), kind=CommandKind.EXTEND, who="a phone", minutes=5.0)
        bench.tick(more, more)
        bench.tick(more)
        assert bench.state.stage.extra_s == 300.0
        reasons = [event.get("reason") for event in bench.of(EventCode.COMMAND_TAKEN)]
        assert reasons == [None, "again", "again"]

    def test_what_lowers_acts_each_time_its_id_comes(self) -> None:
        bench = heating()
        stop = Command(id=CommandId("my button"), kind=CommandKind.STOP_HEAT, who="a hub")
        bench.tick(stop)
        bench.run(6)
        assert bench.tell(CommandKind.RESET) is None
        assert bench.tell(CommandKind.START) is None
        bench.tick(stop)
        assert bench.be(BatchState.ABORTING)

    def test_an_id_that_was_used_for_something_else_is_no_repetition(self) -> None:
        bench = resting()
        one = CommandId("1")
        bench.tick(Command(id=one, kind=CommandKind.EXTEND, who="a script", minutes=5.0))
        bench.tick(Command(id=one, kind=CommandKind.RETARGET, who="a script", target_c=65.0))
        assert bench.state.stage.target_c == 65.0
        bench.tick(Command(id=one, kind=CommandKind.STOP_HEAT, who="a script"))
        assert bench.be(BatchState.ABORTING)

    def test_a_repeated_lowering_that_has_nothing_left_to_lower_was_taken(self) -> None:
        bench = resting()
        stop = Command(id=CommandId("enough"), kind=CommandKind.STOP, who="a phone")
        bench.tick(stop, Command(id=CommandId("all"), kind=CommandKind.STOP_HEAT, who="a phone"), stop)
        assert bench.be(BatchState.ABORTING)
        assert [event.get("reason") for event in bench.of(EventCode.COMMAND_TAKEN)] == [None, None, "again"]

    def test_a_refused_one_may_be_tried_again(self) -> None:
        bench = resting()
        hotter = Command(id=CommandId("x"), kind=CommandKind.RETARGET, who="a phone", target_c=500.0)
        bench.tick(hotter)
        bench.tick(hotter)
        assert [event.get("reason") for event in bench.of(EventCode.COMMAND_REFUSED)] == ["target_out_of_range"] * 2

    def test_memory_of_ids_is_bounded(self) -> None:
        bench = resting()
        for _ in range(REMEMBERED + 10):
            bench.tell(CommandKind.ACKNOWLEDGE)
        assert len(bench.state.recent) == REMEMBERED


class TestExtend:
    """More or less time."""

    def test_it_lengthens_and_shortens_but_never_below_what_has_passed(self) -> None:
        bench = resting()
        bench.tell(CommandKind.EXTEND, minutes=10.0)
        assert bench.state.stage.extra_s == 600.0
        bench.tell(CommandKind.EXTEND, minutes=-240.0)
        assert bench.state.stage.step_index == 1

    @pytest.mark.parametrize("minutes", [None, NAN, 241.0, -241.0, float("inf")])
    def test_nonsense_is_refused(self, minutes: float | None) -> None:
        assert resting().tell(CommandKind.EXTEND, minutes=minutes) == "minutes_out_of_range"

    def test_a_step_without_a_timer_has_nothing_to_extend(self) -> None:
        assert heating().tell(CommandKind.EXTEND, minutes=5.0) == "no_timer"
        assert heating().tell(CommandKind.EXTEND) == "no_timer"
        assert resting().tell(CommandKind.EXTEND, step_index=2) == "no_timer"

    def test_a_step_to_come_begins_with_what_was_added_to_it_before(self) -> None:
        bench = resting()
        assert bench.tell(CommandKind.EXTEND, minutes=4.0, step_index=1) is None
        assert bench.tell(CommandKind.EXTEND, minutes=1.0, step_index=1) is None
        assert bench.state.stage.extra_s == 0.0
        bench.tell(CommandKind.EXTEND, minutes=-240.0)
        assert bench.state.stage.step_index == 1
        assert bench.state.stage.extra_s == 300.0

    def test_a_step_to_come_keeps_what_was_added_when_the_one_before_it_is_skipped(self) -> None:
        bench = resting()
        bench.tell(CommandKind.EXTEND, minutes=4.0, step_index=1)
        bench.tell(CommandKind.SKIP)
        bench.run(2)
        assert bench.state.stage.step_index == 1
        assert bench.state.stage.extra_s == 240.0

    def test_no_step_to_come_is_shortened_below_nothing(self) -> None:
        bench = resting()
        bench.tell(CommandKind.EXTEND, minutes=-240.0, step_index=1)
        assert bench.state.stage.later_s == ((1, -60.0),)

    @pytest.mark.parametrize("index", [-1, 0, 3, 99])
    def test_a_step_that_is_over_or_never_comes_has_nothing_to_extend(self, index: int) -> None:
        bench = resting()
        bench.tell(CommandKind.SKIP)
        bench.run(2)
        assert bench.tell(CommandKind.EXTEND, minutes=5.0, step_index=index) == "no_such_step"

    def test_what_was_added_to_a_step_to_come_is_in_the_forecast(self) -> None:
        bench = resting()
        before = forecast(bench.plan, bench.state)
        bench.tell(CommandKind.EXTEND, minutes=30.0, step_index=1)
        after = forecast(bench.plan, bench.state)
        assert before is not None
        assert after is not None
        assert after.steps[1].ends.at_s - before.steps[1].ends.at_s == pytest.approx(1800.0, abs=5.0)


class TestRetarget:
    """Another temperature."""

    def test_the_new_target_is_what_is_regulated_to_and_waited_for(self) -> None:
        bench = heating()
        assert bench.tell(CommandKind.RETARGET, target_c=61.0) is None
        assert bench.state.evidence.over_c == pytest.approx(bench.liquid_c - 61.0, abs=0.1)
        bench.until(lambda: bench.state.stage.step_index == 1, within_s=400)

    def test_the_time_it_should_take_is_reckoned_anew(self) -> None:
        bench = heating()
        before_s = bench.state.stage.expected_s or 0.0
        bench.tell(CommandKind.RETARGET, target_c=85.0)
        assert (bench.state.stage.expected_s or 0.0) > 2 * before_s

    def test_nothing_counts_as_settled_at_a_target_it_was_not_settled_at(self) -> None:
        bench = BenchKettle(plan_of(STRIKE, LONG_REST), liquid_c=70.0, stage="heat")
        bench.run(25)
        bench.tell(CommandKind.RETARGET, target_c=69.8)
        bench.run(10)
        assert bench.state.stage.step_index == 0

    @pytest.mark.parametrize("target_c", [None, NAN, 4.9, 90.1, float("inf")])
    def test_nonsense_is_refused(self, target_c: float | None) -> None:
        assert heating().tell(CommandKind.RETARGET, target_c=target_c) == "target_out_of_range"

    @pytest.mark.parametrize(
        ("step", "boil_c", "hottest_c"),
        [
            (CirculateStep(name="clean", at_c=60.0, for_min=9.0), 100.0, 98.0),
            (HopStandStep(name="stand", at_c=80.0, for_min=9.0), 98.5, 97.5),
            (STRIKE, 88.0, 87.0),
        ],
        ids=["circulation", "stand", "on a mountain"],
    )
    def test_no_word_makes_boil_what_is_only_to_be_held(self, step: AnyStep, boil_c: float, hottest_c: float) -> None:
        bench = BenchKettle(plan_of(step, kettle=replace(KETTLE, boil_c=boil_c)), liquid_c=50.0)
        bench.state = bench.state._replace(batch=BatchState.RUNNING)
        assert bench.tell(CommandKind.RETARGET, target_c=hottest_c + 0.1) == "target_out_of_range"
        assert bench.tell(CommandKind.RETARGET, target_c=hottest_c) is None

    @pytest.mark.parametrize(
        "step", [BoilStep(name="b", for_min=9.0), ChillStep(name="c", to_c=20.0, water_c=10.0)], ids=["boil", "chill"]
    )
    def test_a_boil_and_a_chill_have_no_target_to_change(self, step: BoilStep | ChillStep) -> None:
        bench = BenchKettle(plan_of(step), liquid_c=60.0, stage="climb" if isinstance(step, BoilStep) else "fall")
        assert bench.tell(CommandKind.RETARGET, target_c=60.0) == "no_target"


class TestSkip:
    """On to the next step."""

    def test_the_next_step_begins_in_the_same_tick_and_open_calls_are_closed(self) -> None:
        step = HopStandStep(name="s", at_c=80.0, for_min=9.0, pump=True)
        bench = BenchKettle(plan_of(step, LONG_REST), liquid_c=95.0, stage="cool")
        bench.tick()
        assert bench.calls == [CallKind.HOSES, CallKind.COOL]
        assert bench.tell(CommandKind.SKIP) is None
        assert bench.state.stage.step_index == 1
        assert bench.calls == []
        assert len(bench.of(EventCode.CALL_ANSWERED)) == 2
        assert bench.of(EventCode.STEP_DONE)[-1].get("skipped") is True

    def test_what_was_changed_in_the_skipped_step_is_not_carried_over(self) -> None:
        bench = heating()
        bench.tell(CommandKind.RETARGET, target_c=85.0)
        bench.tell(CommandKind.SKIP)
        assert bench.state.stage.target_c is None

    def test_an_ask_is_confirmed_not_skipped(self) -> None:
        bench = BenchKettle(plan_of(AskStep(name="a", what=AskKind.OTHER), STRIKE), stage="ask")
        bench.tick()
        assert bench.tell(CommandKind.SKIP) == "confirm_instead"

    def test_the_last_step_is_not_skipped(self) -> None:
        bench = BenchKettle(plan_of(STRIKE), liquid_c=60.0, stage="heat")
        assert bench.tell(CommandKind.SKIP) == "last_step"


class TestAddingWater:
    """Litres the profile does not know of."""

    def test_the_litres_are_added_to_the_claim(self) -> None:
        bench = heating()
        assert bench.tell(CommandKind.ADDING_WATER, litres=2.5) is None
        assert bench.state.ledger.volume_l == 22.5

    @pytest.mark.parametrize("litres", [None, NAN, 0.0, -1.0, 201.0])
    def test_nonsense_is_refused(self, litres: float | None) -> None:
        assert heating().tell(CommandKind.ADDING_WATER, litres=litres) == "litres_out_of_range"

    def test_more_than_fits_is_refused(self) -> None:
        assert heating().tell(CommandKind.ADDING_WATER, litres=11.0) == "more_than_the_kettle_holds"

    def test_it_makes_no_claim_where_there_is_none(self) -> None:
        bench = BenchKettle(plan_of(STRIKE), stage="heat", volume_l=None)
        assert bench.tell(CommandKind.ADDING_WATER, litres=10.0) == "nothing_in_the_kettle"
        bench.run(3)
        assert bench.off


class TestConfirm:
    """Answers to calls."""

    def test_without_a_name_it_answers_the_oldest_call(self) -> None:
        step = HopStandStep(name="s", at_c=80.0, for_min=9.0, pump=True)
        bench = BenchKettle(plan_of(step), liquid_c=95.0, stage="cool")
        bench.run(4)
        assert bench.tell(CommandKind.CONFIRM) is None
        assert bench.calls == [CallKind.COOL]

    def test_a_call_just_raised_is_not_answered_by_a_button_that_cannot_have_meant_it(self) -> None:
        bench = BenchKettle(plan_of(AskStep(name="a", what=AskKind.OTHER)), stage="ask")
        bench.tick()
        assert bench.tell(CommandKind.CONFIRM) == "just_raised"
        bench.tick()
        assert bench.tell(CommandKind.CONFIRM) is None

    @pytest.mark.parametrize("call", ["", "0.ask.1", "7.ask.0", "nonsense"])
    def test_a_call_that_is_not_open_is_refused(self, call: str) -> None:
        bench = BenchKettle(plan_of(AskStep(name="a", what=AskKind.OTHER)), stage="ask")
        bench.tick()
        assert bench.tell(CommandKind.CONFIRM, call=call) == "no_such_call"


class TestButton:
    """The confirm button on the board."""

    @pytest.mark.parametrize(
        ("batch", "becomes"),
        [
            (BatchState.IDLE, BatchState.RESTARTING),
            (BatchState.HELD, BatchState.RESTARTING),
            (BatchState.ABORTED, BatchState.IDLE),
            (BatchState.STOPPED, BatchState.STOPPED),
        ],
    )
    def test_it_means_what_the_state_asks_for(self, batch: BatchState, becomes: BatchState) -> None:
        bench = heating()
        bench.state = bench.state._replace(batch=batch)
        bench.inputs_on = BoardInput.CONFIRM
        bench.tick()
        assert bench.be(becomes)

    def test_held_down_it_is_pressed_once(self) -> None:
        bench = heating()
        bench.tell(CommandKind.STOP_HEAT)
        bench.run(6)
        bench.inputs_on = BoardInput.CONFIRM
        bench.run(10)
        assert bench.be(BatchState.IDLE)

    def test_found_pressed_when_the_link_returns_it_is_nobodys_word(self) -> None:
        bench = heating()
        bench.linked = False
        bench.tell(CommandKind.HOLD)
        bench.run(6)
        bench.linked, bench.inputs_on = True, BoardInput.CONFIRM
        bench.run(4)
        assert bench.be(BatchState.HELD)
        bench.inputs_on = BoardInput.NONE
        bench.tick()
        bench.inputs_on = BoardInput.CONFIRM
        bench.tick()
        assert bench.be(BatchState.RESTARTING)


class TestAcknowledge:
    """Alarms taken notice of."""

    def test_a_name_that_is_no_alarms_is_refused(self) -> None:
        assert heating().tell(CommandKind.ACKNOWLEDGE, alarm="nonsense") == "no_such_alarm"
