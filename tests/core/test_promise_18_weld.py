"""Promise 18: the heater's switch is stuck closed."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kettlebridge.core.ledger import Grain
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import CommandKind
from kettlebridge.model.event import EventCode
from kettlebridge.model.kettle import HeaterDrive, Kettle
from kettlebridge.model.plan import HeatStep, RestStep
from tests.core.bench_kettle import BARE, KETTLE, WITHIN_S, BenchKettle, plan_of

WITHIN_18_S = WITHIN_S[18] or 0.0
PEAK_OVER_C = 10.0
HOLD = RestStep(name="rest", at_c=66.0, for_min=60.0)
BY_CONTACTOR = replace(KETTLE, drive=HeaterDrive.CONTACTOR)


@pytest.mark.parametrize("kettle", [KETTLE, BY_CONTACTOR], ids=["ssr", "contactor"])
def test_a_weld_in_a_hold_opens_the_main_contactor(kettle: Kettle) -> None:
    bench = BenchKettle(plan_of(HOLD, kettle=kettle), liquid_c=66.0, stage="hold")
    bench.run(200)
    bench.heater_stuck = True
    took_s = bench.until(lambda: not bench.contactor, within_s=WITHIN_18_S)
    assert took_s <= WITHIN_18_S
    assert bench.state.hold_cause == "weld"
    peak_c = bench.liquid_c
    for _ in range(120):
        bench.tick()
        peak_c = max(peak_c, bench.liquid_c)
    assert peak_c <= 66.0 + PEAK_OVER_C


def test_a_weld_at_the_end_of_a_heat_up_does_too() -> None:
    bench = BenchKettle(
        plan_of(HeatStep(name="water", to_c=50.0), replace(HOLD, at_c=50.0)), liquid_c=40.0, stage="heat"
    )
    bench.run(10)
    bench.until(lambda: bench.heater < 1000, within_s=900)
    bench.heater_stuck = True
    bench.until(lambda: bench.batch is BatchState.HOLDING, within_s=WITHIN_18_S)
    assert not bench.contactor
    assert bench.state.hold_cause == "weld"
    assert bench.liquid_c <= 50.0 + PEAK_OVER_C


def test_in_a_mash_it_is_seen_in_the_zone_under_the_basket() -> None:
    step = replace(HOLD, pump_after_min=0.0)
    bench = BenchKettle(plan_of(step), liquid_c=66.0, stage="hold", grain=Grain.IN)
    bench.true_l = 4.0
    bench.run(240)
    bench.heater_stuck = True
    bench.until(lambda: not bench.contactor, within_s=WITHIN_18_S)


def test_while_held_without_a_main_contactor_the_alarm_sounds() -> None:
    bench = BenchKettle(plan_of(HOLD, kettle=BARE), liquid_c=60.0, stage="hold")
    bench.run(60)
    bench.tell(CommandKind.HOLD)
    bench.run(70)
    bench.heater_stuck = True
    bench.until(lambda: bench.alarms, within_s=WITHIN_18_S)
    assert bench.alarms in (["weld"], ["both_welded"])


def test_a_hold_and_a_ramp_with_a_healthy_switch_do_not() -> None:
    bench = BenchKettle(plan_of(HOLD), liquid_c=60.0, stage="ramp")
    bench.run(1200)
    bench.tell(CommandKind.RETARGET, target_c=72.0)
    bench.run(900)
    assert bench.of(EventCode.TRIP) == []


def test_hot_water_that_was_announced_does_not() -> None:
    bench = BenchKettle(plan_of(HOLD), liquid_c=66.0, stage="hold")
    bench.run(120)
    bench.tell(CommandKind.ADDING_WATER, litres=2.0)
    for _ in range(15):
        bench.liquid_c += 0.2
        bench.tick()
    bench.run(120)
    assert bench.of(EventCode.TRIP) == []
