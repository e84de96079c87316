"""Promise 51: the bed passes less than the pump takes."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kettlebridge.core.ledger import Grain
from kettlebridge.documents.troubles import TRIP_WORDS
from kettlebridge.model.event import EventCode
from kettlebridge.model.ids import ProbeName
from kettlebridge.model.kettle import Probe, ProbeRole
from kettlebridge.model.plan import RestStep
from kettlebridge.model.reading import BoardInput
from tests.core.bench_kettle import KETTLE, WITHIN_S, BenchKettle, plan_of

WITHIN_51_S = WITHIN_S[51] or 0.0
BY_SWITCH_S = 10.0
BACK = ProbeName("back")
REST = RestStep(name="rest", at_c=66.0, for_min=60.0, pump_after_min=0.0)
FITTED = replace(KETTLE, inputs=BoardInput.LEVEL | BoardInput.FLOW)
RETURN = replace(KETTLE, probes=(*KETTLE.probes, Probe(name=BACK, source="back", role=ProbeRole.RETURN)))


def test_a_level_switch_ends_it_within_ten_seconds() -> None:
    bench = BenchKettle(plan_of(REST, kettle=FITTED), liquid_c=65.0, stage="hold", grain=Grain.IN)
    bench.inputs_on = BoardInput.FLOW
    bench.run(20)
    assert bench.pump
    bench.inputs_on |= BoardInput.LEVEL
    assert bench.until(lambda: bench.off, within_s=BY_SWITCH_S) <= BY_SWITCH_S
    assert bench.state.hold_cause == "level_low"
    assert "stir" in TRIP_WORDS["level_low"].do


def test_so_does_a_flow_switch() -> None:
    bench = BenchKettle(plan_of(REST, kettle=FITTED), liquid_c=65.0, stage="hold", grain=Grain.IN)
    bench.inputs_on = BoardInput.FLOW
    bench.run(20)
    bench.inputs_on = BoardInput.NONE
    assert bench.until(lambda: bench.off, within_s=BY_SWITCH_S) <= BY_SWITCH_S


def test_a_return_that_lags_far_behind_ends_it_in_a_minute() -> None:
    bench = BenchKettle(plan_of(REST, kettle=RETURN), liquid_c=66.0, stage="hold", grain=Grain.IN)
    bench.also_read[BACK] = lambda: bench.liquid_c - 0.8
    bench.run(400)
    assert bench.of(EventCode.TRIP) == []
    began_s = bench.now_s
    bench.also_read[BACK] = lambda: bench.liquid_c - 0.8 - min(0.5 * (bench.now_s - began_s), 12.0)
    bench.until(lambda: bench.state.evidence.streams.bed_lag_c > 5.0, within_s=30)
    assert bench.until(lambda: bench.off, within_s=WITHIN_51_S) <= WITHIN_51_S
    assert bench.state.hold_cause == "bed_stuck"


def test_what_the_heater_does_to_the_stream_is_no_lag() -> None:
    bench = BenchKettle(plan_of(replace(REST, at_c=76.0), kettle=RETURN), liquid_c=66.0, stage="hold", grain=Grain.IN)
    stream_c = KETTLE.heater_w / (4186.0 * KETTLE.pump_l_per_min / 60.0)
    bench.also_read[BACK] = lambda: bench.liquid_c - stream_c * bench.heater / 1000.0
    bench.run(300)
    assert [event.get("rule") for event in bench.of(EventCode.TRIP)] in ([], ["low_fill"])


def test_half_as_much_again_as_full_power_does_to_the_stream_is_left_out() -> None:
    bench = BenchKettle(plan_of(replace(REST, at_c=76.0), kettle=RETURN), liquid_c=66.0, stage="hold", grain=Grain.IN)
    bench.also_read[BACK] = lambda: bench.liquid_c - 4.0
    bench.run(200)
    stream_c = KETTLE.heater_w / (4186.0 * KETTLE.pump_l_per_min / 60.0)
    heated = bench.state.evidence.warmth.recent_fraction
    assert heated > 0.5
    assert bench.state.evidence.streams.bed_lag_c == pytest.approx(4.0 - 1.5 * stream_c * heated, abs=0.1)
