"""Promise 15: the wall clock jumps. Daylight saving: tests/files/test_local_time.py."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kettlebridge.core.ledger import Grain
from kettlebridge.core.tick import tick
from kettlebridge.model.plan import HeatStep, RestStep
from tests.core.bench_kettle import STARTED_UTC_S, BenchKettle, plan_of


@pytest.mark.parametrize("jump_s", [-3600.0, 3600.0, 86_400.0 * 365])
def test_a_jump_changes_no_duration_and_no_demand(jump_s: float) -> None:
    step = RestStep(name="rest", at_c=66.0, for_min=5.0, pump_after_min=0.0)
    bench = BenchKettle(plan_of(step), liquid_c=65.9, stage="hold", grain=Grain.IN)
    bench.run(100)
    straight = jumped = bench.state
    for _ in range(60):
        bench.tick()
        inputs = bench.inputs[-1]
        straight = tick(bench.plan, straight, inputs).state
        there = tick(bench.plan, jumped, replace(inputs, at_utc_s=inputs.at_utc_s + jump_s))
        jumped = there.state
        assert jumped._replace(at_utc_s=0.0) == straight._replace(at_utc_s=0.0)


def test_the_ready_time_is_one_of_the_wall() -> None:
    """Armed on the clock as it is then: one that is set after that disarms (promise 28)."""
    step = HeatStep(name="water", to_c=60.0, ready=True)
    bench = BenchKettle(plan_of(step, ready_at_utc_s=STARTED_UTC_S + 8 * 3600.0), stage="wait", armed=True)
    bench.run(30)
    assert bench.stage == "wait"
    inputs = bench.inputs[-1]
    late = replace(inputs, now_s=bench.now_s + 1.0, at_utc_s=STARTED_UTC_S + 7.9 * 3600.0)
    armed = bench.state._replace(arming=bench.state.arming._replace(clock_s=late.at_utc_s - late.now_s))
    assert tick(bench.plan, armed, late).state.stage.name == "heat"
