"""The rest of the day, as it looks from any moment of it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kettlebridge.core.boil_over import HOT_BREAK_S
from kettlebridge.core.calls import CallKind
from kettlebridge.core.forecast import WAYS, forecast
from kettlebridge.core.hands import ask_s
from kettlebridge.core.known import beforehand
from kettlebridge.core.ledger import Grain
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import CommandKind
from kettlebridge.model.forecast import Forecast, Need
from kettlebridge.model.learnt import Learnt
from kettlebridge.model.plan import (
    Addition,
    AdditionKind,
    AskKind,
    AskStep,
    BoilStep,
    ChillStep,
    CirculateStep,
    HeatStep,
    HopStandStep,
    StepKind,
    Water,
)
from tests.core.bench_kettle import MASH_REST, STARTED_UTC_S, STRIKE, BenchKettle, plan_of

LEAF = Addition(name="leaf", kind=AdditionKind.HOPS, grams=25.0, before_end_min=15.0)
SUGAR = Addition(name="sugar", kind=AdditionKind.SUGAR, grams=250.0, before_end_min=5.0)
LEARNT = Learnt(
    rate_fraction=0.8,
    rate_spread=0.01,
    loss_w_per_k=2.0,
    loss_spread_w_per_k=0.2,
    delay_s=10.0,
    delay_spread_s=2.0,
    stratification_c=0.5,
    stratification_spread_c=0.1,
    learnt_at_utc_s=STARTED_UTC_S - 7 * 86400.0,
    heat_ups=3,
)


def ahead(bench: BenchKettle) -> Forecast:
    made = forecast(bench.plan, bench.state)
    assert made is not None
    return made


def need(made: Forecast, kind: CallKind) -> Need:
    return next(need for need in made.needs if need.kind == kind.value)


def test_every_kind_of_step_has_its_way() -> None:
    assert set(WAYS) == set(StepKind)


@pytest.mark.parametrize("what", AskKind)
def test_every_kind_of_ask_takes_its_time(what: AskKind) -> None:
    assert ask_s(what, litres=4.0) > 0.0


def test_a_heat_up_ends_when_the_forecast_said_it_would() -> None:
    bench = BenchKettle(plan_of(STRIKE, AskStep(name="d", what=AskKind.DOUGH_IN)), stage="heat")
    bench.run(2)
    made = ahead(bench)
    took_s = bench.until(lambda: bench.state.stage.step_index == 1, within_s=4000.0)
    expected_s = made.steps[1].begins.at_s - made.made_s
    assert took_s == pytest.approx(expected_s, rel=0.06)
    assert made.next_spell is not None
    assert (made.next_spell.need.kind, made.next_spell.need.subject) == ("ask", "dough_in")


def test_what_earlier_brews_taught_moves_the_forecast_and_narrows_its_band() -> None:
    plan = plan_of(STRIKE, AskStep(name="d", what=AskKind.DOUGH_IN))
    new, known = BenchKettle(plan, stage="heat"), BenchKettle(replace(plan, learnt=LEARNT), stage="heat")
    by_file, by_learning = ahead(new).steps[0].ends, ahead(known).steps[0].ends
    assert by_learning.at_s / by_file.at_s == pytest.approx(1.0 / 0.8, rel=0.03)
    assert by_learning.spread_s / by_learning.at_s < 0.7 * by_file.spread_s / by_file.at_s
    assert beforehand(plan.kettle, LEARNT).rate_fraction == 0.8


def test_the_step_in_hand_is_as_long_as_its_timer() -> None:
    bench = BenchKettle(plan_of(MASH_REST, STRIKE), liquid_c=66.0, stage="hold", grain=Grain.IN)
    bench.run(20)
    made = ahead(bench)
    assert made.steps[0].begins.at_s == bench.state.stage.step_begun_s
    assert made.steps[0].ends.at_s - made.made_s == pytest.approx(40.0, abs=1.5)


def test_an_open_call_is_needed_now_and_a_confirmed_one_no_more() -> None:
    bench = BenchKettle(plan_of(AskStep(name="d", what=AskKind.DOUGH_IN), MASH_REST), liquid_c=70.0, stage="hands_in")
    bench.run(2)
    assert need(ahead(bench), CallKind.ASK).begins.at_s == bench.state.now_s
    bench.confirm(CallKind.ASK)
    bench.run(1)
    made = ahead(bench)
    assert [one.kind for one in made.needs if one.begins.at_s <= bench.state.now_s] == ["hands_clear"]


def test_additions_are_needed_before_the_end_of_their_boil() -> None:
    bench = BenchKettle(plan_of(BoilStep(name="b", for_min=60.0, additions=(LEAF, SUGAR))), liquid_c=90.0, stage="")
    bench.run(3)
    made = ahead(bench)
    ends_s = made.steps[0].ends.at_s
    (leaf, sugar) = (one for one in made.needs if one.kind == "addition")
    assert (ends_s - leaf.begins.at_s, ends_s - sugar.begins.at_s) == (900.0, 300.0)
    assert sugar.hands_s > leaf.hands_s
    stand_by = need(made, CallKind.STAND_BY)
    assert stand_by.begins.at_s < leaf.begins.at_s
    assert stand_by.hands_s > 8 * 60.0  # until the hot break has passed


@pytest.mark.parametrize(("stage", "timer_s"), [("approach", 0.0), ("boil", 120.0)])
def test_whoever_has_come_to_the_first_boil_is_not_free_before_the_hot_break_has_passed(
    stage: str, timer_s: float
) -> None:
    boil = BoilStep(name="b", for_min=60.0, additions=(LEAF,))
    bench = BenchKettle(plan_of(boil), liquid_c=98.0, stage=stage)
    bench.state = bench.state._replace(stage=bench.state.stage._replace(timer_s=timer_s))
    bench.run(2)
    made = ahead(bench)
    assert made.next_spell is not None
    assert made.next_spell.begins.at_s == bench.state.now_s
    assert made.next_spell.lasts_s >= HOT_BREAK_S - timer_s - 5.0


def test_after_the_hot_break_they_are_free() -> None:
    bench = BenchKettle(plan_of(BoilStep(name="b", for_min=60.0, additions=(LEAF,))), liquid_c=100.0, stage="boil")
    bench.state = bench.state._replace(stage=bench.state.stage._replace(timer_s=HOT_BREAK_S + 10.0))
    bench.run(2)
    made = ahead(bench)
    assert made.next_spell is not None
    assert made.next_spell.need.kind == "addition"


def test_close_needs_are_one_spell() -> None:
    steps = (
        AskStep(name="l", what=AskKind.LIFT),
        AskStep(name="s", what=AskKind.SPARGE),
        AskStep(name="a", what=AskKind.BASKET_AWAY),
        BoilStep(name="b", for_min=60.0),
    )
    bench = BenchKettle(plan_of(*steps), liquid_c=70.0, stage="hands_in", grain=Grain.IN)
    bench.run(2)
    made = ahead(bench)
    assert made.next_spell is not None
    away = next(one for one in made.needs if one.subject == "basket_away")
    stand_by = need(made, CallKind.STAND_BY)
    end_s = made.next_spell.begins.at_s + made.next_spell.lasts_s
    assert away.begins.at_s < end_s < stand_by.begins.at_s


def test_a_ready_time_holds_the_day_back() -> None:
    ready_utc_s = STARTED_UTC_S + 6 * 3600.0
    step = HeatStep(name="strike", to_c=70.0, ready=True)
    bench = BenchKettle(plan_of(step, MASH_REST, ready_at_utc_s=ready_utc_s), stage="wait")
    bench.run(2)
    present = need(ahead(bench), CallKind.PRESENT)
    assert 0.0 < 6 * 3600.0 - present.begins.at_s < 15 * 60.0


@pytest.mark.parametrize(
    "step",
    [
        HopStandStep(name="h", at_c=80.0, for_min=20.0, pump=True, additions=(LEAF,)),
        CirculateStep(name="c", at_c=70.0, for_min=20.0),
        ChillStep(name="c", to_c=20.0, water_c=12.0),
        ChillStep(name="c", to_c=12.0, water_c=12.0),
    ],
)
def test_later_steps_take_time_and_hands(step: HopStandStep | CirculateStep | ChillStep) -> None:
    bench = BenchKettle(plan_of(BoilStep(name="b", for_min=10.0), step), liquid_c=99.0, stage="boil")
    bench.run(1)
    made = ahead(bench)
    lasts_s = made.steps[1].ends.at_s - made.steps[1].begins.at_s
    assert 300.0 < lasts_s < 3 * 3600.0
    assert any(one.index == 1 for one in made.needs)
    assert made.steps[1].ends.spread_s >= made.steps[1].begins.spread_s


def test_water_that_losses_never_let_get_there_still_has_a_forecast() -> None:
    plan = plan_of(HeatStep(name="s", to_c=89.0), MASH_REST)
    weak = replace(plan, kettle=replace(plan.kettle, heater_w=100.0, loss_w_per_k=20.0))
    assert ahead(BenchKettle(weak, stage="heat")).steps[0].ends.at_s > 3600.0


def test_a_paused_or_finished_day_has_no_forecast() -> None:
    bench = BenchKettle(plan_of(MASH_REST), liquid_c=66.0, stage="hold")
    bench.run(2)
    bench.tell(CommandKind.HOLD)
    assert forecast(bench.plan, bench.state) is None
    bench.state = bench.state._replace(batch=BatchState.COMPLETE)
    assert forecast(bench.plan, bench.state) is None


def test_a_day_without_litres_or_probe_is_foreseen_too() -> None:
    plan = plan_of(AskStep(name="f", what=AskKind.FILL), STRIKE, water=Water(fill_l=20.0))
    bench = BenchKettle(plan, stage="ask", volume_l=None)
    bench.state = bench.state._replace(probes=bench.state.probes[:0] + tuple(type(p)() for p in bench.state.probes))
    assert len(ahead(bench).steps) == 2
