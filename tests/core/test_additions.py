"""Additions: announced, due, repeated until confirmed, and the real time kept."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kettlebridge.core.additions import READY_AHEAD_S, Phase, advanced, answered, any_open, schedule, sinking
from kettlebridge.core.calls import CALL_ROWS, CallKind
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import CommandKind
from kettlebridge.model.event import EventCode
from kettlebridge.model.plan import Addition, AdditionKind, BoilStep
from tests.core.bench_kettle import STRIKE, BenchKettle, plan_of

LEAF = Addition(name="leaf", kind=AdditionKind.HOPS, grams=11.0, before_end_min=15.0)
MOSS = Addition(name="moss", kind=AdditionKind.FINING, grams=1.0, before_end_min=15.0)
SUGAR = Addition(name="candi", kind=AdditionKind.SUGAR, grams=500.0, before_end_min=15.0)
DUE_LEFT_S = 900.0


def boiling(*additions: Addition, left_s: float) -> BenchKettle:
    bench = BenchKettle(
        plan_of(BoilStep(name="b", for_min=60.0, additions=additions), STRIKE), liquid_c=100.0, stage="boil"
    )
    bench.alive = False
    stage = bench.state.stage._replace(timer_s=3600.0 - left_s, boil_c=100.0)
    bench.state = bench.state._replace(schedule=schedule(additions), stage=stage)
    return bench


def codes(bench: BenchKettle) -> list[EventCode]:
    wanted = {EventCode.ADDITION_SOON, EventCode.ADDITION_DUE, EventCode.ADDITION_MADE}
    return [event.code for event in bench.events if event.code in wanted]


def test_it_is_announced_three_minutes_ahead_called_at_its_time_and_made_when_confirmed() -> None:
    bench = boiling(LEAF, left_s=DUE_LEFT_S + READY_AHEAD_S + 5)
    bench.run(4)
    assert codes(bench) == []
    bench.run(2)
    assert codes(bench) == [EventCode.ADDITION_SOON]
    bench.run(178, dt_s=2.0)
    assert codes(bench) == [EventCode.ADDITION_SOON]
    bench.run(4)
    assert codes(bench) == [EventCode.ADDITION_SOON, EventCode.ADDITION_DUE]
    assert bench.calls == [CallKind.ADDITION]
    assert bench.state.schedule[0].phase is Phase.DUE
    assert bench.confirm(CallKind.ADDITION, at_kettle=False) is None
    assert codes(bench)[-1] is EventCode.ADDITION_MADE
    assert bench.calls == []


def test_it_is_repeated_until_somebody_answers() -> None:
    bench = boiling(LEAF, left_s=DUE_LEFT_S)
    bench.run(4 * CALL_ROWS[CallKind.ADDITION].repeat_s + 10, dt_s=2.0)
    assert len(bench.of(EventCode.CALL_RAISED)) == 1
    assert len(bench.of(EventCode.CALL_REPEATED)) == 4
    assert bench.alarms == ["unanswered"]
    bench.confirm(CallKind.ADDITION)
    bench.run(100, dt_s=2.0)
    assert len(bench.of(EventCode.CALL_REPEATED)) == 4


def test_the_real_time_is_kept_beside_the_planned_one() -> None:
    bench = boiling(LEAF, left_s=DUE_LEFT_S)
    bench.run(90)
    bench.confirm(CallKind.ADDITION)
    made = bench.of(EventCode.ADDITION_MADE)[0]
    assert made.get("planned_before_end_min") == 15.0
    assert made.get("made_before_end_min") == pytest.approx(13.5, abs=0.02)


def test_what_sinks_keeps_the_time_it_went_in_not_that_it_had_dissolved() -> None:
    bench = boiling(SUGAR, left_s=DUE_LEFT_S)
    bench.run(60)
    bench.confirm(CallKind.ADDITION)
    assert bench.of(EventCode.ADDITION_MADE) == []
    bench.run(120)
    bench.confirm(CallKind.DISSOLVED)
    assert bench.of(EventCode.ADDITION_MADE)[0].get("made_before_end_min") == pytest.approx(14.0, abs=0.02)


def test_two_at_the_same_time_are_two_calls() -> None:
    bench = boiling(LEAF, MOSS, left_s=DUE_LEFT_S)
    bench.run(2)
    assert bench.calls == [CallKind.ADDITION, CallKind.ADDITION]
    bench.confirm(CallKind.ADDITION, 1)
    assert [event.get("addition") for event in bench.of(EventCode.ADDITION_MADE)] == ["moss"]
    assert len(bench.calls) == 1


def test_a_boil_cut_short_still_calls_for_what_it_had_ahead() -> None:
    bench = boiling(LEAF, left_s=1800.0)
    bench.run(2)
    bench.tell(CommandKind.EXTEND, minutes=-240.0)
    bench.run(5)
    assert (bench.stage, bench.calls) == ("wrap", [CallKind.ADDITION])
    bench.confirm(CallKind.ADDITION)
    assert bench.state.stage.step_index == 1


def test_an_extended_boil_moves_what_is_still_ahead() -> None:
    bench = boiling(LEAF, left_s=DUE_LEFT_S + 10)
    bench.tell(CommandKind.EXTEND, minutes=10.0)
    bench.run(30)
    assert bench.calls == []


def test_a_pause_repeats_no_calls_and_keeps_them_open() -> None:
    bench = boiling(LEAF, left_s=DUE_LEFT_S)
    bench.run(5)
    bench.tell(CommandKind.HOLD)
    bench.run(200, dt_s=2.0)
    assert bench.of(EventCode.CALL_REPEATED) == []
    assert bench.calls == [CallKind.ADDITION]
    assert bench.confirm(CallKind.ADDITION) is None
    assert bench.be(BatchState.HELD)


def test_stopping_closes_what_was_called_for() -> None:
    bench = boiling(LEAF, left_s=DUE_LEFT_S)
    bench.run(5)
    bench.tell(CommandKind.STOP)
    bench.run(300, dt_s=4.0)
    assert bench.calls == []
    assert bench.of(EventCode.CALL_REPEATED) == []


def test_before_the_timer_runs_it_may_be_announced_but_is_not_due() -> None:
    planned, events = advanced(schedule((LEAF,)), DUE_LEFT_S, adds=False)
    assert [event.code for event in events] == [EventCode.ADDITION_SOON]
    assert advanced(planned, 0.0, adds=False) == (planned, ())


def test_answering_what_is_not_open_changes_nothing() -> None:
    planned = schedule((LEAF,))
    assert answered(planned, 0, 100.0) == (planned, ())


@pytest.mark.parametrize(
    ("addition", "phase", "open_", "sinks"),
    [
        (SUGAR, Phase.WAITING, False, False),
        (SUGAR, Phase.SOON, False, False),
        (SUGAR, Phase.DUE, True, True),
        (SUGAR, Phase.DISSOLVING, True, True),
        (SUGAR, Phase.MADE, False, False),
        (LEAF, Phase.DUE, True, False),
    ],
)
def test_open_is_due_or_dissolving_and_only_sugar_sinks(
    addition: Addition, phase: Phase, open_: bool, sinks: bool
) -> None:
    planned = tuple(replace(one, phase=phase) for one in schedule((addition,)))
    assert (any_open(planned), sinking(planned)) == (open_, sinks)
