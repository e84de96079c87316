"""Promise 50: something flows that no pump was told to move."""

from __future__ import annotations

from dataclasses import replace

from kettlebridge.model.event import EventCode
from kettlebridge.model.plan import RestStep
from kettlebridge.model.reading import BoardInput
from tests.core.bench_kettle import KETTLE, WITHIN_S, BenchKettle, plan_of

REST = RestStep(name="rest", at_c=66.0, for_min=60.0, pump_after_min=0.0)
FLOW = replace(KETTLE, inputs=BoardInput.FLOW)

WITHIN_50_S = WITHIN_S[50] or 0.0


def still() -> BenchKettle:
    step = replace(REST, pump_after_min=None)
    bench = BenchKettle(plan_of(step, kettle=FLOW), liquid_c=65.0, stage="hold")
    bench.run(20)
    assert bench.heater > 0
    return bench


def test_a_pump_that_runs_by_itself_ends_the_heat() -> None:
    bench = still()
    bench.inputs_on = BoardInput.FLOW
    assert bench.until(lambda: bench.off, within_s=WITHIN_50_S) <= WITHIN_50_S
    assert bench.state.hold_cause == "stray_flow"
    assert bench.alarms == ["stray_flow"]


def test_what_runs_on_for_some_seconds_does_not() -> None:
    bench = still()
    bench.inputs_on = BoardInput.FLOW
    bench.run(6)
    bench.inputs_on = BoardInput.NONE
    bench.run(20)
    assert bench.of(EventCode.TRIP) == []


def test_a_pump_that_runs_dry_is_found_as_one_that_stands() -> None:
    bench = BenchKettle(plan_of(REST, kettle=FLOW), liquid_c=66.0, stage="hold")
    bench.run(3)
    assert bench.pump
    assert bench.until(lambda: bench.off, within_s=WITHIN_50_S) <= WITHIN_50_S
    assert bench.state.hold_cause == "no_flow"
