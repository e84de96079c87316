"""Promise 53: a boil is due and nobody is there."""

from __future__ import annotations

from kettlebridge.brewing.timetable import STAND_BY_UNDER_C
from kettlebridge.core.calls import CallKind
from kettlebridge.core.steps.boil import STAND_BY_LIMIT_S
from kettlebridge.model.event import EventCode
from kettlebridge.model.plan import BoilStep
from tests.core.bench_kettle import KETTLE, WITHIN_S, BenchKettle, plan_of

WITHIN_53_S = WITHIN_S[53] or 0.0


def waiting() -> BenchKettle:
    bench = BenchKettle(plan_of(BoilStep(name="boil", for_min=60.0)), liquid_c=90.0, stage="climb")
    bench.until(lambda: bench.stage == "stand_by", within_s=1200)
    return bench


def test_it_waits_four_degrees_under_the_boil() -> None:
    bench = waiting()
    bench.run(1200)
    assert bench.stage == "stand_by"
    assert bench.liquid_c < KETTLE.boil_c - STAND_BY_UNDER_C + 1.0
    assert bench.calls == [CallKind.STAND_BY]


def test_after_three_quarters_of_an_hour_the_heat_ends() -> None:
    bench = waiting()
    begun_s = bench.now_s
    bench.until(lambda: bench.off, within_s=WITHIN_53_S + 60, dt_s=2.0)
    assert STAND_BY_LIMIT_S - 5 <= bench.now_s - begun_s <= WITHIN_53_S + 5
    assert bench.state.hold_cause == "held_for_nobody"


def test_only_a_word_at_the_kettle_goes_on() -> None:
    bench = waiting()
    bench.run(5)
    assert bench.confirm(CallKind.STAND_BY, at_kettle=False) == "at_kettle_only"
    assert bench.confirm(CallKind.STAND_BY) is None
    bench.run(2)
    assert bench.stage == "approach"
    assert bench.of(EventCode.TRIP) == []
