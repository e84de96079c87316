"""Promise 57: heating for somebody who is not there yet."""

from __future__ import annotations

from kettlebridge.core.calls import CallKind
from kettlebridge.model.plan import HeatStep
from tests.core.bench_kettle import STARTED_UTC_S, BenchKettle, plan_of

READY = HeatStep(name="water", to_c=60.0, ready=True, pump=True)


def test_the_pump_stays_off_until_somebody_is_there() -> None:
    bench = BenchKettle(plan_of(READY, ready_at_utc_s=STARTED_UTC_S + 60.0), liquid_c=59.0, stage="heat", armed=True)
    pumped = []
    while bench.stage == "heat":
        assert bench.now_s < 1200
        bench.tick()
        pumped.append(bench.pump)
    assert not any(pumped)
    bench.run(60)
    assert (bench.stage, bench.pump, bench.contactor) == ("hot_hold", False, True)
    assert bench.confirm(CallKind.PRESENT) is None


def test_somebody_who_heats_for_now_may_pump() -> None:
    bench = BenchKettle(plan_of(READY), liquid_c=40.0, stage="heat")
    bench.run(5)
    assert bench.pump
