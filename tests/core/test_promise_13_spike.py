"""Promise 13: one spike among good readings."""

from __future__ import annotations

import pytest

from kettlebridge.core.ledger import Grain
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.event import EventCode
from kettlebridge.model.plan import RestStep
from tests.core.bench_kettle import MASH_REST, STRIKE, BenchKettle, plan_of

SPIKES_C = (-40.0, 0.0, 30.0, 85.0, 95.0, 114.0, 300.0)


def spiked(bench: BenchKettle, spike_c: float) -> None:
    live, bench.reads = bench.reads, lambda: spike_c
    bench.tick()
    bench.reads = live


@pytest.mark.parametrize("spike_c", SPIKES_C)
def test_a_spike_resets_no_timer_and_moves_no_output(spike_c: float) -> None:
    def day(with_spikes: bool) -> BenchKettle:
        bench = BenchKettle(plan_of(MASH_REST), liquid_c=66.0, stage="hold", grain=Grain.IN)
        bench.alive = False
        for _ in range(5):
            bench.run(6)
            if with_spikes:
                spiked(bench, spike_c)
            else:
                bench.tick()
        return bench

    spiky, calm = day(True), day(False)
    assert spiky.state.stage.timer_s == calm.state.stage.timer_s == 35.0
    assert spiky.heater == pytest.approx(calm.heater, abs=15)  # a second without a reading is a little less certain
    assert spiky.of(EventCode.TRIP) == []
    assert spiky.batch is BatchState.RUNNING


def test_a_low_spike_does_not_energise_a_kettle_that_is_hot_enough() -> None:
    bench = BenchKettle(plan_of(STRIKE), liquid_c=74.0, stage="heat")
    bench.run(3)
    assert bench.heater == 0
    spiked(bench, 20.0)
    assert bench.heater == 0
    bench.run(3)
    assert bench.heater == 0


def test_a_spike_at_the_target_neither_settles_nor_unsettles_it() -> None:
    bench = BenchKettle(plan_of(STRIKE, STRIKE), liquid_c=60.0, stage="heat")
    bench.alive = False
    bench.run(5)
    spiked(bench, 70.0)
    unsettled = bench.state.stage
    bench.liquid_c = 70.0
    bench.run(10)
    settling = bench.state.stage
    spiked(bench, 20.0)
    assert (unsettled.near_since_s, settling.near_since_s is not None) == (None, True)
    assert bench.state.stage.near_since_s == settling.near_since_s


def test_a_true_step_is_believed_once_four_readings_agree() -> None:
    """Somebody poured in cold water: not a spike, and not to be held back for long."""
    bench = BenchKettle(plan_of(RestStep(name="r", at_c=66.0, for_min=10.0)), liquid_c=66.0, stage="hold")
    bench.run(5)
    bench.liquid_c = 58.0
    bench.run(3)
    assert bench.state.evidence.control_c == pytest.approx(66.0, abs=0.2)
    bench.tick()
    assert bench.state.evidence.control_c == pytest.approx(58.0, abs=0.2)
    assert bench.batch is BatchState.RUNNING
