"""Promise 43: sugar or syrup due or undissolved on the element."""

from __future__ import annotations

from kettlebridge.core.additions import schedule
from kettlebridge.core.calls import CallKind
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import CommandKind
from kettlebridge.model.event import EventCode
from kettlebridge.model.plan import Addition, AdditionKind, BoilStep
from tests.core.bench_kettle import BenchKettle, plan_of

SUGAR = Addition(name="candi", kind=AdditionKind.SUGAR, grams=500.0, before_end_min=10.0)
HOPS = Addition(name="leaf", kind=AdditionKind.HOPS, grams=20.0, before_end_min=10.0)


def boiling(addition: Addition, *, timer_s: float = 590.0) -> BenchKettle:
    bench = BenchKettle(
        plan_of(BoilStep(name="boil", for_min=20.0, additions=(addition,))), liquid_c=100.0, stage="boil"
    )
    bench.alive = False
    bench.state = bench.state._replace(
        schedule=schedule((addition,)), stage=bench.state.stage._replace(timer_s=timer_s)
    )
    return bench


def test_sugar_takes_the_heater_down_when_due_and_until_it_is_dissolved() -> None:
    bench = boiling(SUGAR)
    bench.run(8)
    assert bench.heater > 0
    bench.until(lambda: CallKind.ADDITION in bench.calls, within_s=10)
    assert bench.off
    bench.run(5)
    assert bench.confirm(CallKind.ADDITION) is None
    assert bench.calls == [CallKind.DISSOLVED]
    bench.run(5)
    assert bench.off
    assert bench.confirm(CallKind.DISSOLVED, at_kettle=False) == "at_kettle_only"
    assert bench.off
    assert bench.confirm(CallKind.DISSOLVED) is None
    bench.run(2)
    assert bench.heater > 0


def test_nobody_confirms_and_the_heater_stays_off() -> None:
    bench = boiling(SUGAR)
    bench.until(lambda: CallKind.ADDITION in bench.calls, within_s=15)
    for _ in range(150):
        bench.tick(dt_s=4.0)
        assert bench.off
    assert bench.of(EventCode.CALL_REPEATED) != []
    assert "unanswered" in bench.alarms


def test_neither_skip_nor_a_pause_nor_an_extension_gets_round_it() -> None:
    bench = boiling(SUGAR)
    bench.until(lambda: CallKind.ADDITION in bench.calls, within_s=15)
    bench.confirm(CallKind.ADDITION)
    assert bench.tell(CommandKind.SKIP) == "addition_open"
    assert bench.tell(CommandKind.EXTEND, minutes=10.0) is None
    assert bench.tell(CommandKind.HOLD) is None
    bench.run(3)
    assert bench.tell(CommandKind.CARRY_ON) is None
    bench.run(8)
    assert bench.batch is BatchState.RUNNING
    assert bench.off


def test_hops_leave_the_heater_on() -> None:
    bench = boiling(HOPS)
    bench.until(lambda: CallKind.ADDITION in bench.calls, within_s=15)
    bench.run(5)
    assert bench.heater > 0


def test_sugar_at_the_very_end_of_the_boil_is_called_before_the_step_may_end() -> None:
    last = Addition(name="candi", kind=AdditionKind.SUGAR, grams=500.0, before_end_min=0.0)
    bench = boiling(last, timer_s=1195.0)
    bench.run(10)
    assert bench.be(BatchState.RUNNING)
    assert bench.calls == [CallKind.ADDITION]
    bench.confirm(CallKind.ADDITION)
    bench.confirm(CallKind.DISSOLVED)
    assert bench.be(BatchState.COMPLETE)
    assert [event.get("made_before_end_min") for event in bench.of(EventCode.ADDITION_MADE)] == [0.0]
