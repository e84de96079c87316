"""Promise 10: the reading repeats itself although change was expected."""

from __future__ import annotations

import pytest

from kettlebridge.core.ledger import Grain
from kettlebridge.model.command import CommandKind
from kettlebridge.model.event import EventCode
from kettlebridge.model.plan import Addition, AdditionKind, AskKind, AskStep, BoilStep, HeatStep, HopStandStep
from tests.core.bench_kettle import MASH_REST, WITHIN_S, BenchKettle, plan_of

WITHIN_10_S = WITHIN_S[10] or 0.0


@pytest.mark.parametrize("stuck_c", [66.0, 88.0])
@pytest.mark.parametrize("grant", [0.45, 1.0])
def test_a_probe_that_stays_as_it_is_while_heat_goes_in_holds_the_batch(stuck_c: float, grant: float) -> None:
    bench = BenchKettle(plan_of(HeatStep(name="water", to_c=90.0)), stage="heat", liquid_c=stuck_c - 4.0)
    bench.run(90)
    bench.limit_fraction = grant
    stuck_at_c = bench.liquid_c
    bench.reads = lambda: stuck_at_c
    slow = 1.0 / grant
    took_s = bench.until(lambda: bench.off, within_s=WITHIN_10_S * slow * 1.5)
    assert took_s <= WITHIN_10_S * slow * 1.5
    # At full power the rise that is missing is seen first.
    assert bench.state.hold_cause in {"frozen", "no_heat"}


def test_a_probe_that_is_still_stuck_is_not_carried_on_with() -> None:
    bench = BenchKettle(plan_of(HeatStep(name="water", to_c=90.0)), stage="heat", liquid_c=60.0)
    bench.limit_fraction = 0.4
    bench.run(90)
    stuck_at_c = bench.liquid_c
    bench.reads = lambda: stuck_at_c
    bench.until(lambda: bench.state.hold_cause == "frozen", within_s=600)
    bench.run(10)
    assert bench.tell(CommandKind.CARRY_ON) is None
    bench.until(lambda: bench.state.hold_cause == "frozen", within_s=900)


@pytest.mark.parametrize("stuck_c", [94.0, 97.0])
def test_it_never_confirms_a_boil(stuck_c: float) -> None:
    bench = BenchKettle(plan_of(BoilStep(name="boil", for_min=60.0)), liquid_c=stuck_c, stage="approach")
    bench.reads = lambda: stuck_c
    bench.run(1300)
    assert bench.of(EventCode.BOIL_FOUND) == []
    assert bench.state.hold_cause in {"frozen", "no_heat"} or bench.calls


def test_a_rest_at_its_temperature_may_read_the_same_for_long() -> None:
    bench = BenchKettle(plan_of(MASH_REST), liquid_c=66.0, stage="hold", grain=Grain.IN)
    bench.run(55)
    assert bench.of(EventCode.TRIP) == []


@pytest.mark.parametrize("what", [AskKind.SPARGE, AskKind.DRAIN])
def test_it_is_seen_while_the_wort_is_kept_warm_for_the_rinsing(what: AskKind) -> None:
    step = AskStep(name="by hand", what=what, keep_c=75.0)
    bench = BenchKettle(plan_of(step, MASH_REST), liquid_c=66.0, stage="ask", volume_l=20.0, grain=Grain.LIFTED)
    bench.reads = lambda: 66.0
    bench.run(5)
    assert bench.until(lambda: bench.off, within_s=WITHIN_10_S) <= WITHIN_10_S
    assert bench.state.hold_cause == "frozen"


def test_it_is_seen_while_an_addition_waits() -> None:
    hops = Addition(name="leaf", kind=AdditionKind.HOPS, grams=20.0, before_end_min=30.0)
    stand = HopStandStep(name="stand", at_c=80.0, for_min=30.0, additions=(hops,))
    bench = BenchKettle(plan_of(stand), liquid_c=76.0, stage="stand")
    bench.run(5)
    stuck_c = bench.liquid_c
    bench.reads = lambda: stuck_c
    assert bench.until(lambda: bench.off, within_s=WITHIN_10_S) <= WITHIN_10_S
