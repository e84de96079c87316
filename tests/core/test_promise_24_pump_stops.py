"""Promise 24: the pump stops while liquid goes round."""

from __future__ import annotations

from dataclasses import replace

from kettlebridge.core.ledger import Grain
from kettlebridge.model.event import EventCode
from kettlebridge.model.plan import RestStep
from kettlebridge.model.reading import BoardInput
from tests.core.bench_kettle import KETTLE, WITHIN_S, BenchKettle, plan_of

REST = RestStep(name="rest", at_c=66.0, for_min=60.0, pump_after_min=0.0)
FLOW = replace(KETTLE, inputs=BoardInput.FLOW)

WITHIN_24_S = WITHIN_S[24] or 0.0
OVER_C = 3.0


def going_round() -> BenchKettle:
    bench = BenchKettle(plan_of(REST, kettle=FLOW), liquid_c=65.0, stage="hold", grain=Grain.IN)
    bench.inputs_on = BoardInput.FLOW
    bench.run(20)
    assert bench.pump
    assert bench.heater > 0
    return bench


def test_with_a_flow_switch_all_is_off_within_ten_seconds() -> None:
    bench = going_round()
    bench.inputs_on = BoardInput.NONE
    assert bench.until(lambda: bench.off, within_s=WITHIN_24_S) <= WITHIN_24_S
    assert bench.state.hold_cause == "no_flow"


def test_some_seconds_to_fill_the_hose_are_given() -> None:
    bench = going_round()
    bench.inputs_on = BoardInput.NONE
    bench.run(6)
    bench.inputs_on = BoardInput.FLOW
    bench.run(30)
    assert bench.of(EventCode.TRIP) == []


def test_without_one_the_heater_goes_off_before_the_probe_is_three_degrees_over() -> None:
    bench = BenchKettle(plan_of(REST), liquid_c=66.0, stage="hold", grain=Grain.IN)
    bench.alive = False
    bench.run(10)
    while bench.liquid_c < 66.0 + OVER_C:
        bench.liquid_c += 0.5
        bench.tick()
    bench.tick()
    assert bench.heater == 0
