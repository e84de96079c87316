"""Promise 21: a stage takes far more energy than it needs."""

from __future__ import annotations

from kettlebridge.core.heat_watch import BUDGET_C, BUDGET_J
from kettlebridge.core.ledger import Grain
from kettlebridge.model.event import EventCode
from kettlebridge.model.plan import AskKind, AskStep, RestStep
from tests.core.bench_kettle import ROOM_C, BenchKettle, plan_of

HOLD = RestStep(name="rest", at_c=66.0, for_min=240.0)


def test_a_kettle_that_leaks_heat_is_held_with_the_budget_spent() -> None:
    bench = BenchKettle(plan_of(HOLD), liquid_c=66.0, stage="hold")
    bench.run(120)
    begun_j = bench.state.ledger.energy_j
    leak_w = 1200.0

    def leaking() -> float:
        bench.liquid_c -= leak_w / (4186.0 * 20.0) * (bench.liquid_c - ROOM_C) / 46.0
        return bench.liquid_c

    bench.reads = leaking
    bench.until(lambda: bench.off, within_s=2 * 3600)
    assert bench.state.hold_cause == "over_budget"
    spare_j = BUDGET_J + BUDGET_C * 4186.0 * 20.0
    spent_j = bench.state.ledger.energy_j - begun_j
    assert spare_j < spent_j < 4.0 * spare_j


def test_two_hours_of_holding_do_not() -> None:
    bench = BenchKettle(plan_of(HOLD), liquid_c=66.0, stage="hold")
    bench.run(7200, dt_s=2.0)
    assert bench.of(EventCode.TRIP) == []


def test_a_heat_up_from_cold_in_a_fuller_kettle_does_not() -> None:
    bench = BenchKettle(plan_of(HOLD), liquid_c=12.0, stage="ramp")
    bench.true_l = 23.0
    bench.until(lambda: bench.stage == "hold", within_s=3600)
    assert bench.of(EventCode.TRIP) == []


def test_wort_that_is_kept_warm_for_a_probe_that_hangs_elsewhere_is_not_kept_for_long() -> None:
    step = AskStep(name="rinse", what=AskKind.SPARGE, keep_c=75.0)
    bench = BenchKettle(plan_of(step, HOLD), liquid_c=70.0, stage="ask", volume_l=20.0, grain=Grain.LIFTED)
    bench.reads = lambda: 60.0 + 0.2 * (bench.state.n % 2)
    bench.run(5)
    bench.until(lambda: bench.off, within_s=1800)
    assert bench.state.hold_cause == "over_budget"
    assert bench.liquid_c < bench.plan.kettle.boil_c
