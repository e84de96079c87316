"""Chill, hop stand, circulate, and the asks around the basket: each walks through its stages."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kettlebridge.core.calls import CallKind
from kettlebridge.core.ledger import Grain
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.event import EventCode
from kettlebridge.model.kettle import ChillWay
from kettlebridge.model.plan import (
    Addition,
    AdditionKind,
    AskKind,
    AskStep,
    BoilStep,
    ChillStep,
    CirculateStep,
    HopStandStep,
)
from tests.core.bench_kettle import KETTLE, STRIKE, BenchKettle, plan_of


class TestChill:
    """Heater locked out, whatever happens."""

    def test_in_the_kettle_it_watches_the_fall_and_asks_twice(self) -> None:
        step = ChillStep(name="chill", to_c=20.0, water_c=12.0)
        bench = BenchKettle(plan_of(step), liquid_c=90.0, stage="")
        bench.alive = False
        bench.run(2)
        assert bench.calls == [CallKind.CHILLER_ON]
        bench.confirm(CallKind.CHILLER_ON)
        while bench.liquid_c > 20.2:
            assert bench.off
            bench.liquid_c -= 1.0
            bench.tick()
        bench.run(2)
        assert bench.calls == [CallKind.CHILLED]
        bench.confirm(CallKind.CHILLED)
        assert bench.be(BatchState.COMPLETE)

    def test_with_cooling_water_too_warm_it_says_what_can_be_reached_and_ends_there(self) -> None:
        step = ChillStep(name="chill", to_c=18.0, water_c=22.0)
        bench = BenchKettle(plan_of(step), liquid_c=24.2, stage="")
        bench.alive = False
        bench.run(2)
        assert bench.of(EventCode.REACHABLE)[0].values == (("reachable_c", 24.0), ("to_c", 18.0))
        bench.confirm(CallKind.CHILLER_ON)
        bench.tick()
        assert bench.calls == [CallKind.CHILLED]

    def test_in_line_it_pumps_only_after_hoses_and_the_claim_ends_with_the_transfer(self) -> None:
        kettle = replace(KETTLE, chill=ChillWay.IN_LINE)
        bench = BenchKettle(
            plan_of(ChillStep(name="chill", to_c=20.0, water_c=12.0), STRIKE, kettle=kettle), liquid_c=95.0, stage=""
        )
        bench.alive = False
        bench.run(20)
        assert (bench.calls, bench.off) == ([CallKind.HOSES], True)
        bench.confirm(CallKind.HOSES)
        bench.run(2)
        assert (bench.pump, bench.heater, bench.contactor) == (True, 0, False)
        bench.confirm(CallKind.TRANSFERRED)
        assert bench.state.ledger.volume_l is None
        bench.run(5)
        assert bench.off

    def test_a_step_may_say_its_own_way(self) -> None:
        step = ChillStep(name="chill", way=ChillWay.IN_LINE, to_c=20.0, water_c=12.0)
        bench = BenchKettle(plan_of(step), liquid_c=90.0, stage="")
        bench.run(2)
        assert bench.stage == "hoses"


class TestHopStand:
    """Below the boil, with the pump as asked."""

    STEP = HopStandStep(
        name="stand",
        at_c=80.0,
        for_min=2.0,
        pump=True,
        additions=(Addition(name="late", kind=AdditionKind.HOPS, grams=30.0, before_end_min=0.0),),
    )

    def test_it_cools_stands_and_waits_for_its_last_addition(self) -> None:
        bench = BenchKettle(plan_of(self.STEP, STRIKE), liquid_c=95.0, stage="")
        bench.alive = False
        bench.run(3)
        assert (bench.stage, bench.calls, bench.off) == ("cool", [CallKind.HOSES, CallKind.COOL], True)
        bench.confirm(CallKind.HOSES)
        bench.tick()
        assert (bench.pump, bench.heater) == (True, 0)
        while bench.liquid_c > 80.4:
            bench.liquid_c -= 1.0
            bench.tick()
        bench.run(2)
        assert (bench.stage, bench.pump, bench.contactor) == ("stand", True, True)
        bench.run(130)
        assert (bench.stage, bench.calls, bench.off) == ("wrap", [CallKind.ADDITION], True)
        bench.confirm(CallKind.ADDITION)
        assert bench.state.stage.step_index == 1


class TestCirculate:
    """Hot cleaning liquid goes round once the hoses are clamped."""

    def test_it_asks_ramps_and_goes_round_for_its_time(self) -> None:
        bench = BenchKettle(
            plan_of(CirculateStep(name="clean", at_c=60.0, for_min=1.0), STRIKE), liquid_c=59.0, stage=""
        )
        bench.run(20)
        assert (bench.calls, bench.off) == ([CallKind.HOSES], True)
        bench.confirm(CallKind.HOSES)
        bench.run(3)
        assert (bench.stage, bench.pump, bench.heater > 0) == ("ramp", True, True)
        bench.until(lambda: bench.stage == "circulate", within_s=200)
        assert bench.until(lambda: bench.state.stage.step_index == 1, within_s=70) >= 58


class TestBasket:
    """Lift, sparge, drain, basket away: four confirmations, and the climb only after the last."""

    STEPS = (
        AskStep(name="lift", what=AskKind.LIFT),
        AskStep(name="sparge", what=AskKind.SPARGE, keep_c=85.0),
        AskStep(name="drain", what=AskKind.DRAIN, keep_c=75.0),
        AskStep(name="away", what=AskKind.BASKET_AWAY),
        BoilStep(name="boil", for_min=60.0),
    )

    def test_each_word_moves_the_ledger_and_no_heat_but_the_kept_warmth_comes_before_the_last(self) -> None:
        bench = BenchKettle(plan_of(*self.STEPS), liquid_c=70.0, stage="", grain=Grain.IN)
        bench.alive = False
        bench.run(3)
        bench.confirm(CallKind.ASK)
        bench.run(3)
        bench.confirm(CallKind.HANDS_CLEAR)
        bench.run(8)
        assert bench.state.ledger.grain is Grain.LIFTED
        assert bench.state.ledger.volume_l == pytest.approx(20.0 - 0.7 * 4.0)
        assert bench.state.evidence.armed_target_c == 78.0
        assert bench.heater > 0
        bench.confirm(CallKind.ASK, litres=4.0)
        assert bench.state.ledger.volume_l == pytest.approx(21.2)
        bench.run(3)
        assert (bench.state.stage.step_index, bench.state.evidence.armed_target_c) == (2, 75.0)
        bench.confirm(CallKind.ASK)
        bench.run(3)
        assert (bench.state.stage.step_index, bench.off) == (3, True)
        bench.run(60, dt_s=4.0)
        assert bench.off
        bench.confirm(CallKind.ASK)
        bench.run(2)
        assert (bench.stage, bench.heater, bench.state.ledger.grain) == ("climb", 1000, Grain.AWAY)

    def test_the_sparge_is_kept_at_78_degrees_at_most(self) -> None:
        bench = BenchKettle(plan_of(self.STEPS[1]), liquid_c=78.5, stage="ask", grain=Grain.LIFTED)
        bench.alive = False
        bench.run(5)
        assert bench.heater == 0


@pytest.mark.parametrize("what", [AskKind.FILL, AskKind.BASKET_AWAY, AskKind.PITCH, AskKind.EMPTY, AskKind.OTHER])
def test_an_ask_keeps_everything_off_until_it_is_confirmed(what: AskKind) -> None:
    bench = BenchKettle(plan_of(AskStep(name="a", what=what, keep_c=70.0), STRIKE), liquid_c=40.0, stage="ask")
    for _ in range(20):
        bench.tick(dt_s=4.0)
        assert bench.off
    assert bench.calls == [CallKind.ASK]
    assert bench.confirm(CallKind.ASK) is None
    assert bench.state.stage.step_index == 1


def test_the_climb_to_the_boil_starts_only_on_a_word_at_the_kettle() -> None:
    away = AskStep(name="away", what=AskKind.BASKET_AWAY)
    bench = BenchKettle(plan_of(away, STRIKE), liquid_c=74.0, stage="ask", grain=Grain.LIFTED)
    bench.tick()
    assert bench.confirm(CallKind.ASK, at_kettle=False) == "at_kettle_only"
    bench.run(5)
    assert bench.off
    assert bench.confirm(CallKind.ASK) is None
