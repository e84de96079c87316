"""The call to put on the sparge water: once, in time for its pot, whatever step that falls into."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kettlebridge.core.calls import CallKind
from kettlebridge.core.sparge_water import pot_s
from kettlebridge.model.plan import AskKind, AskStep, Plan, RestStep, Water
from tests.core.bench_kettle import BenchKettle, plan_of
from tests.core.test_forecast import ahead, need

WATER = Water(fill_l=20.0, sparge_l=5.0, grain_kg=4.0, sparge_pot_w=1500.0)
LIFT = AskStep(name="l", what=AskKind.LIFT)
SPARGE = AskStep(name="s", what=AskKind.SPARGE)
POT_S = 5.0 * 4186.0 * 63.0 / (0.9 * 1500.0) + 300.0


def a_rest(for_min: float) -> RestStep:
    return RestStep(name="r", at_c=66.0, for_min=for_min)


def brewed(plan: Plan) -> BenchKettle:
    return BenchKettle(plan, liquid_c=66.0, stage="")


def called_s(bench: BenchKettle, within_s: float) -> float:
    return bench.until(lambda: CallKind.SPARGE_WATER in bench.calls, within_s=within_s)


def test_the_pot_takes_its_litres_and_watts_and_some_minutes() -> None:
    assert pot_s(WATER) == pytest.approx(POT_S)
    assert pot_s(replace(WATER, sparge_pot_w=None)) is None
    assert pot_s(replace(WATER, sparge_l=0.0)) is None


def test_it_is_called_so_long_before_the_sparge() -> None:
    bench = brewed(plan_of(a_rest(40.0), LIFT, SPARGE, water=WATER))
    assert called_s(bench, 2400.0) == pytest.approx(40 * 60.0 - (POT_S - 300.0), abs=5.0)  # the lift takes 300 s


def test_the_forecast_foresees_it() -> None:
    bench = brewed(plan_of(a_rest(40.0), LIFT, SPARGE, water=WATER))
    bench.run(2)
    foreseen = need(ahead(bench), CallKind.SPARGE_WATER)
    assert called_s(bench, 2400.0) + 2.0 == pytest.approx(foreseen.begins.at_s, abs=45.0)  # hands clear, too
    assert all(one.begins.at_s <= bench.state.now_s for one in ahead(bench).needs if one.kind == "sparge_water")


def test_it_outlives_its_step_is_answered_once_and_never_raised_again() -> None:
    bench = brewed(plan_of(a_rest(18.0), a_rest(2.0), LIFT, SPARGE, water=WATER))
    called_s(bench, 1500.0)
    bench.until(lambda: bench.state.stage.step_index == 1, within_s=1500.0)
    assert CallKind.SPARGE_WATER in bench.calls
    assert bench.confirm_any(CallKind.SPARGE_WATER) is None
    bench.until(lambda: bench.state.stage.step_index == 2, within_s=300.0)
    bench.run(5)
    assert CallKind.SPARGE_WATER not in bench.calls


def test_a_pot_that_should_have_been_on_already_is_called_for_at_once() -> None:
    bench = brewed(plan_of(a_rest(5.0), LIFT, SPARGE, water=WATER))
    bench.run(2)
    assert CallKind.SPARGE_WATER in bench.calls


def test_nobody_is_called_without_a_pot_or_a_sparge() -> None:
    for plan in (
        plan_of(a_rest(5.0), LIFT, SPARGE, water=replace(WATER, sparge_pot_w=None)),
        plan_of(a_rest(5.0), LIFT, water=WATER),
    ):
        bench = brewed(plan)
        bench.run(310)
        assert CallKind.SPARGE_WATER not in bench.calls
