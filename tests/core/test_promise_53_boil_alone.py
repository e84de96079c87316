"""Promise 53: a boil is due and nobody is there."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from kettlebridge.brewing.timetable import STAND_BY_UNDER_C
from kettlebridge.core.calls import CallKind
from kettlebridge.core.snapshot import target_c
from kettlebridge.core.steps.boil import STAND_BY_LIMIT_S
from kettlebridge.model.event import EventCode
from kettlebridge.model.kettle import HeaterDrive
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


def on_a_mountain(boils_at_c: float, *, drive: HeaterDrive = HeaterDrive.SSR) -> BenchKettle:
    """Its file says 100 °C."""
    kettle = replace(KETTLE, drive=drive, loss_w_per_k=6.0)
    bench = BenchKettle(plan_of(BoilStep(name="boil", for_min=60.0), kettle=kettle), liquid_c=80.0, stage="climb")

    def read() -> float:
        bench.liquid_c = min(bench.liquid_c, boils_at_c)
        return bench.liquid_c + 0.03 * math.sin(bench.now_s)

    bench.reads = read
    return bench


@pytest.mark.parametrize("drive", HeaterDrive)
@pytest.mark.parametrize("boils_at_c", [93.0, 94.5, 95.5, 95.65])
def test_what_boils_before_the_file_says_so_is_held_under_that_boil(boils_at_c: float, drive: HeaterDrive) -> None:
    """At 2000 m it boils at 93 °C: the climb to 96 would have boiled for hours, and nobody would have been called."""
    bench = on_a_mountain(boils_at_c, drive=drive)
    bench.until(lambda: bench.liquid_c >= boils_at_c, within_s=1800)
    assert bench.until(lambda: bench.stage == "stand_by", within_s=300) > 100
    bench.run(1)
    assert bench.calls == [CallKind.STAND_BY]
    bench.run(900)
    assert (bench.stage, bench.of(EventCode.TRIP)) == ("stand_by", [])
    assert bench.liquid_c < boils_at_c - STAND_BY_UNDER_C + 1.0
    assert target_c(bench.plan, bench.state) == pytest.approx(boils_at_c - STAND_BY_UNDER_C, abs=0.1)


def test_there_too_the_heat_ends_after_three_quarters_of_an_hour() -> None:
    bench = on_a_mountain(94.5)
    bench.until(lambda: bench.stage == "stand_by", within_s=1800)
    bench.until(lambda: bench.off, within_s=WITHIN_53_S + 60, dt_s=2.0)
    assert bench.state.hold_cause == "held_for_nobody"


def test_whoever_comes_has_it_boil_there_on_their_word_and_without_full_power_to_the_end() -> None:
    bench = on_a_mountain(94.5)
    bench.until(lambda: bench.stage == "stand_by", within_s=1800)
    bench.run(300, dt_s=2.0)
    assert bench.confirm(CallKind.STAND_BY) is None
    bench.until(lambda: bench.liquid_c > 94.0, within_s=600)
    assert bench.heater < 1000
    bench.until(lambda: CallKind.BOILING in bench.calls, within_s=1500)
    assert bench.confirm(CallKind.BOILING) is None
    bench.run(60)
    assert (bench.stage, bench.state.stage.timer_s > 50.0) == ("boil", True)


def test_a_kettle_too_weak_for_its_steam_goes_on_climbing() -> None:
    """Open and far from its boil it rises ever slower: no boil, and nobody is called before it is time."""
    bench = BenchKettle(plan_of(BoilStep(name="boil", for_min=60.0)), liquid_c=70.0, stage="climb")
    bench.alive = False

    def read() -> float:
        fades = max(1.0 - math.exp(0.0425 * (bench.liquid_c - 95.0)), 0.0)
        bench.liquid_c += 0.03 * fades * bench.heater / 1000.0
        return bench.liquid_c + 0.03 * math.sin(bench.now_s)

    bench.reads = read
    bench.run(3 * 3600, dt_s=2.0)
    assert 94.0 < bench.liquid_c < 95.1
    assert bench.stage == "climb"


def test_cold_water_in_the_climb_is_no_boil() -> None:
    bench = BenchKettle(plan_of(BoilStep(name="boil", for_min=60.0)), liquid_c=80.0, stage="climb")
    bench.until(lambda: bench.liquid_c > 88.0, within_s=900)
    bench.liquid_c -= 2.5
    bench.until(lambda: bench.stage == "stand_by", within_s=1800)
    assert bench.liquid_c > KETTLE.boil_c - STAND_BY_UNDER_C - 0.5


def test_only_a_word_at_the_kettle_goes_on() -> None:
    bench = waiting()
    bench.run(5)
    assert bench.confirm(CallKind.STAND_BY, at_kettle=False) == "at_kettle_only"
    assert bench.confirm(CallKind.STAND_BY) is None
    bench.run(2)
    assert bench.stage == "approach"
    assert bench.of(EventCode.TRIP) == []
