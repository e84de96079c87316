"""A boil: climb, stand by, approach, boil, wrap; and what may be called a boil."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from itertools import groupby

import pytest

from kettlebridge.brewing.timetable import STAND_BY_UNDER_C
from kettlebridge.core.boil import frozen
from kettlebridge.core.calls import CallKind
from kettlebridge.core.relay_window import SHORT
from kettlebridge.core.steps.boil import ASK_BOILING_S, SANITISED_ENOUGH_S
from kettlebridge.core.trail import NO_TRAIL, Trail, followed
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import CommandKind
from kettlebridge.model.event import EventCode
from kettlebridge.model.kettle import HeaterDrive
from kettlebridge.model.plan import Addition, AdditionKind, BoilStep
from tests.core.bench_kettle import KETTLE, STRIKE, BenchKettle, plan_of

BOIL = BoilStep(name="boil", for_min=60.0)


def approaching(boils_at_c: float, *, begun_c: float = 95.0, flicker_c: float = 0.03) -> BenchKettle:
    """A liquid that climbs at 0.03 °C/s while heated and boils at `boils_at_c`; the probe flickers as a live one."""
    bench = BenchKettle(plan_of(BOIL, STRIKE), liquid_c=begun_c, stage="approach")
    bench.alive = False

    def read() -> float:
        bench.liquid_c = min(bench.liquid_c + 0.03 * bench.heater / 1000.0, boils_at_c)
        return bench.liquid_c + flicker_c * math.sin(bench.now_s)

    bench.reads = read
    return bench


@pytest.mark.parametrize("boils_at_c", [97.5, 98.9, 100.0, 101.5])
def test_a_plateau_near_the_expected_boil_is_the_boil_and_dated_to_its_begin(boils_at_c: float) -> None:
    bench = approaching(boils_at_c)
    bench.until(lambda: bench.liquid_c >= boils_at_c, within_s=900)
    found_s = bench.until(lambda: bench.stage == "boil", within_s=250)
    assert found_s >= 30
    found = bench.of(EventCode.BOIL_FOUND)[0]
    assert found.get("boil_c") == pytest.approx(boils_at_c, abs=0.1)
    ago_s = found.get("began_s_ago")
    assert isinstance(ago_s, float)
    assert -20.0 < found_s - ago_s < 90.0
    assert bench.state.stage.timer_s == pytest.approx(ago_s, abs=1.5)


def test_a_climb_that_stops_is_the_boil_without_more_power_being_asked_of_it() -> None:
    bench = approaching(101.0)
    bench.until(lambda: bench.liquid_c >= 99.9, within_s=900)
    given = bench.heater
    bench.until(lambda: bench.stage == "boil", within_s=300, dt_s=1.0)
    assert bench.heater <= given


def test_a_climb_with_power_to_spare_is_given_less_before_it_boils() -> None:
    bench = approaching(101.0)
    bench.until(lambda: bench.liquid_c >= 98.1, within_s=900)
    bench.tick()
    tapered = bench.heater
    bench.until(lambda: bench.liquid_c >= 99.9, within_s=300)
    assert bench.heater < tapered - 100


def test_what_falls_does_not_boil_and_is_given_more() -> None:
    """The lid is taken off late: the taper's power no longer holds it."""
    bench = approaching(102.0)
    bench.until(lambda: bench.liquid_c >= 99.5, within_s=900)
    given = bench.heater

    def read() -> float:
        bench.liquid_c += 0.03 * (bench.heater - 650.0) / 1000.0
        return bench.liquid_c + 0.03 * math.sin(bench.now_s)

    bench.reads = read
    bench.run(400)
    assert bench.stage == "approach"
    assert bench.heater > given + 100


def test_what_falls_while_it_is_asked_does_not_boil() -> None:
    """A stall is suspected, and then the lid comes off."""
    bench = approaching(102.0, begun_c=97.0)
    lost_permille, loses_from_c = [600.0], [98.0]

    def read() -> float:
        bench.liquid_c += 0.03 * (bench.heater - lost_permille[0] * (bench.liquid_c > loses_from_c[0])) / 1000.0
        return bench.liquid_c + 0.03 * math.sin(bench.now_s)

    bench.reads = read
    bench.until(lambda: bench.state.stage.suspicion is not None, within_s=400)
    given = bench.heater
    lost_permille[0], loses_from_c[0] = 850.0, 90.0
    bench.until(lambda: bench.state.stage.suspicion is None, within_s=120)
    assert bench.stage == "approach"
    bench.run(2)
    assert bench.state.stage.stalled_fraction is not None
    assert bench.heater > given


def test_a_fall_is_a_stall_at_once() -> None:
    """A liquid that boils does not fall first: it is not even suspected."""
    bench = approaching(102.0)
    bench.until(lambda: bench.liquid_c >= 99.5, within_s=900)
    least_c = bench.liquid_c - 0.3

    def read() -> float:
        bench.liquid_c = max(bench.liquid_c - 0.01, least_c)
        return bench.liquid_c + 0.03 * math.sin(bench.now_s)

    bench.reads = read
    bench.until(lambda: bench.state.stage.stalled_fraction is not None, within_s=60)
    assert bench.state.stage.suspicion is None


def creeping(for_s: float) -> BenchKettle:
    """A climb that ends, is suspected, and goes on at 0.1 °C a minute for so long, whatever it is given."""
    bench = approaching(100.0)
    bench.until(lambda: bench.state.stage.suspicion is not None, within_s=900)
    ends_s = bench.now_s + for_s

    def read() -> float:
        bench.liquid_c += 0.1 / 60.0 * (bench.now_s < ends_s)
        return bench.liquid_c + 0.03 * math.sin(bench.now_s)

    bench.reads = read
    return bench


def test_what_still_creeps_up_is_not_called_a_boil_yet() -> None:
    bench = creeping(for_s=600.0)
    bench.run(300)
    assert bench.stage == "approach"


def test_a_boil_that_was_crept_up_to_is_dated_to_its_last_tenth_of_a_degree() -> None:
    bench = creeping(for_s=200.0)
    suspected_s = bench.now_s
    bench.until(lambda: bench.stage == "boil", within_s=300)
    began_s_ago = bench.of(EventCode.BOIL_FOUND)[0].get("began_s_ago")
    assert isinstance(began_s_ago, float)
    assert bench.now_s - began_s_ago > suspected_s + 50.0


def test_power_that_is_held_back_asks_nothing() -> None:
    bench = approaching(100.0)
    bench.until(lambda: bench.state.stage.suspicion is not None, within_s=900)
    bench.limit_fraction = 0.15
    bench.run(120)
    assert bench.stage == "approach"


def test_a_climb_before_a_pause_does_not_tell_a_boil() -> None:
    """What stands still after it is asked with more power, as any other plateau."""
    bench = approaching(100.0)
    bench.until(lambda: bench.liquid_c >= 99.9, within_s=900)
    given = bench.heater
    bench.state = bench.state._replace(stage=bench.state.stage._replace(begun_s=bench.now_s + 60.0))
    bench.until(lambda: bench.state.stage.suspicion is not None, within_s=200)
    bench.run(2)
    assert bench.heater > given


def test_a_weak_heater_that_stands_still_at_full_power_asks_the_brewer() -> None:
    """Nothing is left to ask the liquid with."""
    bench = approaching(102.0, begun_c=96.2)
    lost_at_c = {0: 96.9, 1: 97.6}

    def read() -> float:
        fading = min(max((bench.liquid_c - lost_at_c[0]) / (lost_at_c[1] - lost_at_c[0]), 0.0), 1.0)
        bench.liquid_c += 0.03 * (bench.heater / 1000.0) * (1.0 - fading)
        return bench.liquid_c + 0.03 * math.sin(bench.now_s)

    bench.reads = read
    bench.until(lambda: CallKind.BOILING in bench.calls, within_s=ASK_BOILING_S - 60.0)
    assert bench.stage == "approach"
    bench.confirm(CallKind.BOILING)
    assert bench.stage == "boil"
    assert bench.of(EventCode.BOIL_FOUND)[0].get("began_s_ago") == 0.0


def test_an_open_kettle_that_stands_still_short_of_power_is_not_called_boiling() -> None:
    """Three fifths of the power go into steam and losses: the taper's power holds it, more makes it climb."""
    lost_permille, boils_at_c = 600.0, 100.0
    bench = approaching(boils_at_c, begun_c=97.0)

    def read() -> float:
        rise_c = 0.03 * (bench.heater - lost_permille * (bench.liquid_c > 98.0)) / 1000.0
        bench.liquid_c = min(max(bench.liquid_c + rise_c, 97.0), boils_at_c)
        return bench.liquid_c + 0.03 * math.sin(bench.now_s)

    bench.reads = read
    bench.until(lambda: bench.liquid_c >= 98.0, within_s=200)
    bench.until(lambda: bench.stage == "boil", within_s=1100)
    assert bench.of(EventCode.BOIL_FOUND)[0].get("boil_c") == pytest.approx(boils_at_c, abs=0.1)


def test_far_from_the_expected_boil_it_asks() -> None:
    bench = approaching(96.5)
    bench.until(lambda: CallKind.BOILING in bench.calls, within_s=400)
    assert bench.stage == "approach"
    assert bench.confirm(CallKind.BOILING) is None
    assert bench.stage == "boil"


@pytest.mark.parametrize("calibrated", [False, True])
def test_a_frozen_probe_never_confirms_a_boil_but_asks(calibrated: bool) -> None:
    bench = approaching(98.0 + 0.1234567 * calibrated, flicker_c=0.0)
    for second in range(300):
        bench.tick(dt_s=1.0 if second % 7 else 1.3)
    assert bench.stage == "approach"
    assert bench.calls == [CallKind.BOILING]


def test_a_probe_that_hangs_from_the_start_never_confirms() -> None:
    bench = approaching(200.0)
    bench.reads = lambda: 97.5
    bench.run(300, dt_s=2.0)
    assert bench.stage == "approach"


def test_no_kettle_that_climbs_slowly_is_called_boiling() -> None:
    """At a third of the power, still climbing."""
    bench = approaching(200.0)
    bench.limit_fraction = 0.33
    bench.run(330)
    assert bench.stage == "approach"


def test_a_heater_that_was_just_given_power_has_not_boiled_anything() -> None:
    """The circuit granted nothing for five minutes, then everything: a flat minute is no plateau."""
    bench = approaching(200.0, begun_c=96.5)
    bench.run(60)
    bench.limit_fraction = 0.0
    bench.run(300, dt_s=2.0)
    bench.limit_fraction = 1.0
    frozen_c = bench.liquid_c
    bench.reads = lambda: frozen_c + 0.03 * math.sin(bench.now_s)
    bench.run(55)
    assert bench.stage == "approach"


def test_a_cup_drawn_in_the_approach_is_no_plateau() -> None:
    bench = approaching(200.0)
    bench.run(80)
    bench.tell(CommandKind.DRAW_OFF, on=True)
    bench.confirm(CallKind.HOSES, 1)
    held_c = bench.liquid_c
    bench.reads = lambda: held_c + 0.03 * math.sin(bench.now_s)
    for _ in range(30):
        bench.tell(CommandKind.DRAW_OFF, on=True)
    bench.run(50)
    assert bench.stage == "approach"


def test_twenty_minutes_without_a_plateau_it_asks() -> None:
    bench = approaching(200.0)
    bench.reads = lambda: 96.0 + 0.03 * math.sin(bench.now_s)
    bench.run(3)
    bench.pass_by(ASK_BOILING_S)
    bench.run(2)
    assert bench.calls == [CallKind.BOILING]


def test_the_climb_stops_under_the_boil_until_somebody_is_there() -> None:
    bench = BenchKettle(plan_of(BOIL), liquid_c=95.0, stage="climb")
    bench.until(lambda: bench.stage == "stand_by", within_s=200)
    bench.run(300, dt_s=2.0)
    assert bench.liquid_c < KETTLE.boil_c - STAND_BY_UNDER_C + 0.3
    assert bench.confirm(CallKind.STAND_BY, at_kettle=False) == "at_kettle_only"
    assert bench.confirm(CallKind.STAND_BY) is None
    bench.run(2)
    assert (bench.stage, bench.heater) == ("approach", 1000)


def test_power_is_tapered_just_under_the_boil_and_through_the_hot_break() -> None:
    bench = approaching(100.0, begun_c=97.0)
    bench.run(3)
    assert bench.heater == 1000
    bench.until(lambda: bench.liquid_c >= 98.1, within_s=100)
    bench.tick()
    tapered = bench.heater
    assert 450 <= tapered < 600
    bench.until(lambda: bench.stage == "boil", within_s=400)
    bench.tick()
    assert bench.heater <= tapered


def boiling(step: BoilStep, *, timer_s: float = 0.0, liquid_c: float = 100.0) -> BenchKettle:
    bench = BenchKettle(plan_of(step, STRIKE), liquid_c=liquid_c, stage="boil")
    bench.alive = False
    bench.state = bench.state._replace(stage=bench.state.stage._replace(timer_s=timer_s, boil_c=100.0))
    return bench


def test_after_the_hot_break_the_power_boils_off_what_the_profile_wants() -> None:
    bench = boiling(BoilStep(name="b", for_min=60.0, boil_off_l_per_h=2.0), timer_s=800.0)
    bench.run(3)
    assert bench.heater == pytest.approx(1000 * (625.67 * 2.0 + 160.0) / 2500.0, abs=1)


def pulses_s(bench: BenchKettle, within_s: int) -> list[int]:
    """Lengths of the contactor's pulses in that time, the first and the last one left out."""
    ons = []
    for _ in range(within_s):
        bench.tick()
        ons.append(bench.heater > 0)
    return [sum(1 for _ in run) for on, run in groupby(ons) if on][1:-1]


def with_contactor(bench: BenchKettle) -> BenchKettle:
    bench.plan = replace(bench.plan, kettle=replace(bench.plan.kettle, drive=HeaterDrive.CONTACTOR))
    return bench


def test_a_contactor_pulses_as_short_as_it_may_where_wort_could_foam() -> None:
    quantum_s = SHORT[HeaterDrive.CONTACTOR].quantum_s
    near_the_boil = with_contactor(approaching(100.0, begun_c=98.2))
    assert set(pulses_s(near_the_boil, 60)) == {quantum_s}
    assert near_the_boil.stage == "approach"
    gentle = BoilStep(name="b", for_min=60.0, boil_off_l_per_h=1.2)
    assert set(pulses_s(with_contactor(boiling(gentle)), 240)) == {quantum_s}
    assert min(pulses_s(with_contactor(boiling(gentle, timer_s=720.0)), 240)) > quantum_s


def test_time_counts_only_while_it_boils() -> None:
    bench = boiling(BOIL)
    bench.run(10)
    bench.liquid_c = 98.0
    bench.run(10)
    assert bench.state.stage.timer_s == 10.0


SANITISE = BoilStep(name="b", for_min=60.0, sanitise_last_min=10.0)


def test_sanitising_is_asked_for_ahead_and_pumps_boiling_wort_in_the_last_minutes() -> None:
    bench = boiling(SANITISE, timer_s=46.9 * 60.0)
    bench.run(3)
    assert bench.calls == []
    bench.run(8)
    assert bench.calls == [CallKind.HOSES]
    bench.confirm(CallKind.HOSES)
    bench.run(5)
    assert not bench.pump
    bench.run(180, dt_s=4.0)
    assert (bench.pump, bench.heater > 0) == (True, True)


def test_hoses_confirmed_late_are_sanitised_after_the_boil_with_the_heater_off() -> None:
    bench = boiling(SANITISE, timer_s=59.9 * 60.0)
    bench.run(20)
    assert (bench.stage, bench.off) == ("wrap", True)
    bench.confirm(CallKind.HOSES)
    bench.tick()
    assert (bench.pump, bench.heater, bench.contactor) == (True, 0, False)
    pumped_s = bench.until(lambda: bench.state.stage.step_index == 1, within_s=SANITISED_ENOUGH_S + 5)
    assert pumped_s >= SANITISED_ENOUGH_S - 3


def test_the_day_from_the_climb_to_the_next_step() -> None:
    step = BoilStep(
        name="b", for_min=1.0, additions=(Addition(name="l", kind=AdditionKind.HOPS, grams=1.0, before_end_min=1.0),)
    )
    bench = BenchKettle(plan_of(step, STRIKE), liquid_c=95.9, stage="")
    bench.alive = False
    bench.run(2)
    assert bench.stage == "stand_by"
    bench.confirm(CallKind.STAND_BY)
    bench.tick()
    assert bench.stage == "approach"
    bench.liquid_c = 98.0
    bench.pass_by(ASK_BOILING_S)
    bench.run(3)
    bench.confirm(CallKind.BOILING)
    assert bench.stage == "boil"
    bench.run(2)
    assert bench.confirm(CallKind.ADDITION) is None
    bench.run(70)
    assert bench.state.stage.step_index == 1
    assert bench.be(BatchState.RUNNING)


def trail_of(values: list[tuple[float | None, float]], every_s: float = 1.0) -> Trail:
    trail = NO_TRAIL
    for n, (control_c, duty) in enumerate(values):
        trail = followed(trail, control_c, duty, n * every_s)
    return trail


def test_a_trail_is_whole_after_seventy_seconds_and_knows_rise_and_least_duty() -> None:
    climbing: list[tuple[float | None, float]] = [(50.0 + 0.1 * n, 1.0 if n != 40 else 0.2) for n in range(72)]
    assert not trail_of(climbing[:70]).whole
    whole = trail_of(climbing)
    assert whole.whole
    assert whole.rise_c == pytest.approx(6.0)
    assert whole.least_duty_fraction == 0.2


def test_means_that_differ_only_in_their_last_digits_are_one_value_repeated() -> None:
    assert frozen(Trail(values_c=(97.1, 97.1 + 2e-14, 97.1 - 2e-14)))
    assert not frozen(Trail(values_c=(97.1, 97.1, 97.1 + 0.0625 / 10)))


def test_a_missing_temperature_begins_the_trail_anew() -> None:
    assert trail_of([(50.0, 1.0)] * 80 + [(None, 0.0)]) == NO_TRAIL


READS: dict[str, Callable[[float], float]] = {
    "steady": lambda now_s: 99.0,
    "noisy": lambda now_s: 99.0 + 0.06 * math.sin(now_s),
}


@pytest.mark.parametrize("read", READS.values(), ids=READS)
def test_a_kettle_full_of_nothing_is_never_divided_by(read: Callable[[float], float]) -> None:
    bench = BenchKettle(plan_of(BOIL), liquid_c=99.0, stage="approach", volume_l=0.0)
    bench.reads = lambda: read(bench.now_s)
    bench.run(100)
    assert bench.off


def test_wort_that_fell_off_the_boil_is_brought_back_with_the_hot_breaks_power() -> None:
    gentle = BoilStep(name="boil", for_min=60.0, boil_off_l_per_h=0.3)
    boils = boiling(gentle, timer_s=1200.0)
    boils.run(5)
    fell = boiling(gentle, timer_s=1200.0, liquid_c=98.0)
    fell.alive = False
    fell.run(5)
    assert fell.state.stage.timer_s == 1200.0
    assert boils.heater < 450 <= fell.heater < 1000
