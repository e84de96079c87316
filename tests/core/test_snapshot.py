"""The view of a batch."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kettlebridge.core.calls import CallKind
from kettlebridge.core.snapshot import snapshot
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import CommandKind
from kettlebridge.model.ids import BatchId
from kettlebridge.model.plan import Addition, AdditionKind, AnyStep, AskKind, AskStep, BoilStep, ChillStep, RestStep
from kettlebridge.model.snapshot import Snapshot
from tests.core.bench_kettle import REST, STRIKE, BenchKettle, plan_of


def view(bench: BenchKettle) -> Snapshot:
    return snapshot(bench.plan, BatchId("b"), bench.state)


def test_before_the_first_tick_there_is_nothing_to_see_but_the_first_step() -> None:
    seen = view(BenchKettle(plan_of(STRIKE)))
    assert (seen.n, seen.state, seen.temperature_c, seen.volume_l) == (0, BatchState.IDLE, None, None)
    assert seen.step is not None
    assert (seen.step.name, seen.step.remaining_s, seen.linked) == ("strike", None, False)
    assert seen.probes[0].value_c is None


def test_a_heating_kettle_shows_what_is_wanted_and_what_the_board_says() -> None:
    bench = BenchKettle(plan_of(STRIKE, REST), stage="heat")
    bench.run(3)
    seen = view(bench)
    assert seen.outputs.heater_permille == 1000
    assert (seen.outputs.heater_duty_fraction, seen.outputs.board_heater_permille) == (1.0, 1000)
    assert seen.step is not None
    assert (seen.step.index, seen.step.count, seen.step.target_c) == (0, 2, 70.0)
    assert seen.energy_kwh == pytest.approx(2500.0 / 3.6e6, rel=1e-6)
    assert seen.probes[0].age_s == pytest.approx(0.4)


def test_over_a_lost_link_the_board_says_nothing() -> None:
    bench = BenchKettle(plan_of(STRIKE), stage="heat")
    bench.linked = False
    bench.tick()
    seen = view(bench)
    assert (seen.linked, seen.outputs.board_heater_permille, seen.outputs.board_pump_on) == (False, None, None)


def test_a_timer_counts_down_with_what_was_added() -> None:
    bench = BenchKettle(plan_of(RestStep(name="r", at_c=66.0, for_min=10.0)), liquid_c=66.0, stage="hold")
    bench.run(10)
    bench.tell(CommandKind.EXTEND, minutes=1.0)
    seen = view(bench).step
    assert seen is not None
    assert seen.remaining_s == 660.0 - 11.0


def test_what_boiled_and_has_cooled_is_coming_back_to_the_boil() -> None:
    for liquid_c, coming_back in ((100.0, False), (76.7, True)):
        bench = BenchKettle(
            plan_of(BoilStep(name="boil", for_min=60.0)), liquid_c=liquid_c, stage="boil", volume_l=20.0
        )
        bench.run(5)
        seen = view(bench).step
        assert seen is not None
        assert seen.coming_back is coming_back


def test_a_call_is_overdue_once_it_is_an_alarm() -> None:
    bench = BenchKettle(plan_of(AskStep(name="f", what=AskKind.FILL)), stage="ask")
    bench.run(10)
    assert [call.overdue for call in view(bench).calls] == [False]
    bench.run(1800)
    assert [call.overdue for call in view(bench).calls] == [True]
    assert bench.alarms == ["unanswered"]


def test_an_ask_shows_its_text_its_litres_and_its_grain() -> None:
    ask = AskStep(name="a", what=AskKind.DOUGH_IN, text="slowly")
    bench = BenchKettle(plan_of(ask), stage="hands_in")
    bench.tick()
    (call,) = view(bench).calls
    assert (call.kind, call.text, call.kg, call.at_kettle) == ("ask", "slowly", 4.0, True)
    bench = BenchKettle(plan_of(AskStep(name="f", what=AskKind.FILL)), stage="ask")
    bench.tick()
    assert view(bench).calls[0].litres == 20.0


def test_an_addition_shows_its_weight() -> None:
    leaf = Addition(name="leaf", kind=AdditionKind.HOPS, grams=25.0, before_end_min=60.0)
    bench = BenchKettle(plan_of(BoilStep(name="b", for_min=60.0, additions=(leaf,))), liquid_c=98.0, stage="")
    bench.run(3)
    bench.confirm(CallKind.STAND_BY)
    bench.tick()
    bench.pass_by(1300.0)
    bench.run(2)
    bench.confirm(CallKind.BOILING)
    bench.run(2)
    (call,) = view(bench).calls
    assert (call.kind, call.subject, call.kg) == ("addition", "leaf", 0.025)


@pytest.mark.parametrize(
    ("step", "stage", "target_c"),
    [
        (BoilStep(name="b", for_min=60.0), "climb", 96.0),
        (BoilStep(name="b", for_min=60.0), "approach", 100.0),
        (ChillStep(name="c", to_c=20.0, water_c=12.0), "fall", 20.0),
        (AskStep(name="s", what=AskKind.SPARGE, keep_c=75.0), "ask", 75.0),
        (AskStep(name="p", what=AskKind.PITCH), "ask", None),
    ],
)
def test_the_target_is_what_the_step_is_about(step: AnyStep, stage: str, target_c: float | None) -> None:
    seen = view(BenchKettle(plan_of(step), liquid_c=90.0, stage=stage)).step
    assert seen is not None
    assert seen.target_c == target_c


def test_a_pause_says_why_and_a_finished_batch_has_no_step() -> None:
    bench = BenchKettle(plan_of(REST), liquid_c=66.0, stage="hold")
    bench.run(3)
    bench.tell(CommandKind.HOLD, who="Ilka")
    assert view(bench).hold_cause == "Ilka"
    bench.state = bench.state._replace(batch=BatchState.RUNNING, hold_cause=None)
    bench.run(70)
    assert (view(bench).state, view(bench).step, view(bench).calls) == (BatchState.COMPLETE, None, ())


def test_a_record_that_cannot_be_written_is_marked() -> None:
    bench = BenchKettle(plan_of(STRIKE))
    bench.tick()
    bench.now_s += 1.0
    bench.fold(replace(bench.inputs[-1], now_s=bench.now_s, journal_failing=True))
    assert not view(bench).recorded
