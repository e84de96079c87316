"""Promise 11: the control probe falls out of the liquid."""

from __future__ import annotations

import pytest

from kettlebridge.model.command import CommandKind
from kettlebridge.model.event import EventCode
from tests.core.bench_kettle import ROOM_C, STRIKE, WITHIN_S, BenchKettle, plan_of

WITHIN_11_S = WITHIN_S[11] or 0.0


def heating() -> BenchKettle:
    bench = BenchKettle(plan_of(STRIKE), stage="heat", liquid_c=50.0)
    bench.run(300)
    assert bench.heater == 1000
    return bench


@pytest.mark.parametrize("lag_s", [12.0, 30.0, 90.0])
def test_a_probe_in_air_holds_the_batch(lag_s: float) -> None:
    bench = heating()
    fell_s, from_c = bench.now_s, bench.liquid_c
    bench.reads = lambda: ROOM_C + (from_c - ROOM_C) * (1.0 - 1.0 / lag_s) ** (bench.now_s - fell_s)
    assert bench.until(lambda: bench.off, within_s=WITHIN_11_S) <= WITHIN_11_S
    assert bench.state.hold_cause in {"fell_out", "bad_streak", "stale"}


def test_water_that_was_announced_may_cool_it() -> None:
    bench = heating()
    bench.tell(CommandKind.ADDING_WATER, litres=2.0)
    for _ in range(25):
        bench.liquid_c -= 0.2
        bench.tick()
    bench.run(60)
    assert bench.of(EventCode.TRIP) == []


def test_a_fall_of_two_degrees_does_not() -> None:
    bench = heating()
    for _ in range(20):
        bench.liquid_c -= 0.14
        bench.tick()
    assert bench.of(EventCode.TRIP) == []


@pytest.mark.parametrize(("falls_c_per_s", "held"), [(0.11, True), (0.07, False)])
def test_it_is_the_fall_of_half_a_minute_that_counts(falls_c_per_s: float, *, held: bool) -> None:
    bench = heating()
    from_c, fell_s = bench.liquid_c, bench.now_s
    bench.reads = lambda: from_c - falls_c_per_s * (bench.now_s - fell_s)
    bench.run(90)
    assert (bench.state.hold_cause == "fell_out") is held


@pytest.mark.parametrize(("off_s", "held"), [(95, True), (125, False)])
def test_a_fall_counts_for_two_minutes_after_the_heater_was_last_on(off_s: int, *, held: bool) -> None:
    bench = heating()
    bench.limit_fraction = 0.0
    bench.run(off_s)
    from_c, fell_s = bench.liquid_c, bench.now_s
    bench.reads = lambda: from_c - 0.45 * (bench.now_s - fell_s)
    bench.run(12)
    assert (bench.state.hold_cause == "fell_out") is held


@pytest.mark.parametrize(("after_s", "held"), [(165, False), (185, True)])
def test_a_fall_counts_again_three_minutes_after_water_was_announced(after_s: int, *, held: bool) -> None:
    bench = heating()
    bench.tell(CommandKind.ADDING_WATER, litres=2.0)
    bench.run(after_s)
    from_c, fell_s = bench.liquid_c, bench.now_s
    bench.reads = lambda: from_c - 0.45 * (bench.now_s - fell_s)
    bench.run(12)
    assert (bench.state.hold_cause == "fell_out") is held
