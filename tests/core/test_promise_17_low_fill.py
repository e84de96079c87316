"""Promise 17: far less liquid than was confirmed."""

from __future__ import annotations

import pytest

from kettlebridge.model.command import CommandKind
from kettlebridge.model.event import EventCode
from kettlebridge.model.plan import HeatStep
from tests.core.bench_kettle import WITHIN_S, BenchKettle, plan_of

WITHIN_17_S = WITHIN_S[17] or 0.0
STEP = HeatStep(name="water", to_c=80.0)


def filled(confirmed_l: float, true_l: float) -> BenchKettle:
    bench = BenchKettle(plan_of(STEP), stage="heat", volume_l=confirmed_l)
    bench.true_l = true_l
    return bench


@pytest.mark.parametrize(("confirmed_l", "true_l"), [(10.0, 5.0), (9.0, 5.0), (25.0, 9.0)])
def test_half_of_what_was_confirmed_holds_the_batch(confirmed_l: float, true_l: float) -> None:
    bench = filled(confirmed_l, true_l)
    took_s = bench.until(lambda: bench.state.hold_cause, within_s=WITHIN_17_S + 60)
    assert took_s <= WITHIN_17_S
    assert bench.state.hold_cause == "low_fill"


@pytest.mark.parametrize("share", [0.85, 0.75, 1.2])
def test_what_a_jug_gets_wrong_does_not(share: float) -> None:
    bench = filled(20.0, 20.0 * share)
    bench.run(1200)
    assert bench.of(EventCode.TRIP) == []


def test_with_the_water_added_it_may_be_carried_on() -> None:
    bench = filled(10.0, 5.0)
    bench.until(lambda: bench.state.hold_cause, within_s=WITHIN_17_S)
    bench.run(8)
    bench.true_l = 11.0
    bench.tell(CommandKind.ADDING_WATER, litres=1.0)
    assert bench.tell(CommandKind.CARRY_ON) is None
    bench.run(300)
    assert len(bench.of(EventCode.TRIP)) == 1
