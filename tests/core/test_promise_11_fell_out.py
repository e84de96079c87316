"""Promise 11: the control probe falls out of the liquid."""

from __future__ import annotations

import pytest

from kettlebridge.core.ledger import Grain
from kettlebridge.model.command import CommandKind
from kettlebridge.model.event import EventCode
from kettlebridge.model.plan import AskKind, AskStep
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


def kept_warm(what: AskKind) -> BenchKettle:
    """Wort that is kept at 75 °C while the grain is rinsed and drains."""
    step = AskStep(name="by hand", what=what, keep_c=75.0)
    bench = BenchKettle(plan_of(step, STRIKE), liquid_c=70.0, stage="ask", volume_l=20.0, grain=Grain.LIFTED)
    bench.run(90)
    assert bench.heater == 1000
    return bench


@pytest.mark.parametrize("what", [AskKind.SPARGE, AskKind.DRAIN])
def test_it_is_seen_while_the_wort_is_kept_warm_for_the_rinsing(what: AskKind) -> None:
    bench = kept_warm(what)
    fell_s, from_c = bench.now_s, bench.liquid_c
    bench.reads = lambda: ROOM_C + (from_c - ROOM_C) * (1.0 - 1.0 / 30.0) ** (bench.now_s - fell_s)
    assert bench.until(lambda: bench.off, within_s=WITHIN_11_S) <= WITHIN_11_S
    assert bench.state.hold_cause == "fell_out"


def test_the_coldest_sparge_water_that_was_to_be_expected_is_no_fall() -> None:
    bench = kept_warm(AskKind.SPARGE)
    poured_c = bench.plan.profile.water.sparge_c - 20.0
    mixed_c = (20.0 * bench.liquid_c + 5.0 * poured_c) / 25.0
    for _ in range(20):
        bench.liquid_c += (mixed_c - bench.liquid_c) / 5.0
        bench.tick()
    bench.run(30)
    assert bench.of(EventCode.TRIP) == []


@pytest.mark.parametrize(("falls_c", "held"), [(4.6, False), (6.3, True)])
def test_a_fall_counts_beyond_what_five_litres_at_twenty_degrees_less_than_the_profile_says_explain(
    falls_c: float, *, held: bool
) -> None:
    bench = kept_warm(AskKind.SPARGE)
    fell_s, from_c = bench.now_s, bench.liquid_c
    assert from_c == pytest.approx(72.6, abs=0.5)
    bench.reads = lambda: from_c - falls_c * min((bench.now_s - fell_s) / 10.0, 1.0)
    bench.run(30)
    assert (bench.state.hold_cause == "fell_out") is held
