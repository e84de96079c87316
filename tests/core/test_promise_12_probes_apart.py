"""Promise 12: two probes in the same place do not agree."""

from __future__ import annotations

from dataclasses import replace

from kettlebridge.model.event import EventCode
from kettlebridge.model.ids import ProbeName
from kettlebridge.model.kettle import Probe, ProbeRole
from tests.core.bench_kettle import KETTLE, STRIKE, WITHIN_S, BenchKettle, plan_of

WITHIN_12_S = WITHIN_S[12] or 0.0
TWIN = ProbeName("twin")
TWO = replace(KETTLE, probes=(*KETTLE.probes, Probe(name=TWIN, source="twin", role=ProbeRole.SAME_PLACE)))


def heating() -> BenchKettle:
    bench = BenchKettle(plan_of(STRIKE, kettle=TWO), stage="heat", liquid_c=40.0)
    bench.also_read[TWIN] = lambda: bench.liquid_c
    bench.run(60)
    assert bench.heater == 1000
    return bench


def test_a_probe_that_drifts_from_its_twin_holds_the_batch_after_a_minute() -> None:
    bench = heating()
    began_s = bench.now_s
    bench.also_read[TWIN] = lambda: bench.liquid_c - min(0.1 * (bench.now_s - began_s), 6.0)
    bench.until(lambda: bench.now_s - began_s >= 50.1, within_s=60)
    assert bench.until(lambda: bench.off, within_s=WITHIN_12_S) <= WITHIN_12_S
    assert bench.state.hold_cause == "apart"


def test_four_degrees_or_half_a_minute_do_not() -> None:
    bench = heating()
    for apart_c, for_s in ((1.5, 5), (3.0, 5), (4.5, 90), (6.0, 30), (4.5, 30)):
        bench.also_read[TWIN] = lambda apart_c=apart_c: bench.liquid_c - apart_c  # type: ignore[misc]  # bound now
        bench.run(for_s)
    assert bench.of(EventCode.TRIP) == []


def test_a_twin_that_is_silent_is_no_witness() -> None:
    bench = heating()
    bench.also_read[TWIN] = lambda: None
    bench.run(200)
    assert bench.of(EventCode.TRIP) == []
