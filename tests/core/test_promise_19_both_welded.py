"""Promise 19: the main contactor is stuck closed as well."""

from __future__ import annotations

from math import exp

import pytest

from kettlebridge.core.heat_watch import MIXES_C, OPEN_AFTER_S, SETTLES_S
from kettlebridge.core.ledger import Grain
from kettlebridge.documents.troubles import TRIP_WORDS
from kettlebridge.model.alarm import AlarmState
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import CommandKind
from kettlebridge.model.plan import ASK_ROWS, AskKind, AskStep, ChillStep, RestStep
from tests.core.bench_kettle import STRIKE, WITHIN_S, BenchKettle, plan_of

WITHIN_19_S = WITHIN_S[19] or 0.0
HOLD = RestStep(name="rest", at_c=66.0, for_min=60.0)


def welded() -> BenchKettle:
    bench = BenchKettle(plan_of(HOLD), liquid_c=66.0, stage="hold")
    bench.run(200)
    bench.heater_stuck = bench.contactor_stuck = True
    bench.until(lambda: bench.state.hold_cause == "weld", within_s=180)
    return bench


def test_a_kettle_that_goes_on_heating_says_pull_the_plug_and_does_not_stop_saying_it() -> None:
    bench = welded()
    took_s = bench.until(lambda: "both_welded" in bench.alarms, within_s=WITHIN_19_S)
    assert OPEN_AFTER_S < took_s <= WITHIN_19_S
    assert "Pull the plug" in TRIP_WORDS["both_welded"].do
    bench.tell(CommandKind.ACKNOWLEDGE)
    bench.run(10)
    assert [record.state for record in bench.state.alarms if record.cause == "both_welded"] == [AlarmState.ACKNOWLEDGED]
    assert bench.tell(CommandKind.CARRY_ON) == "still_both_welded"
    assert bench.off


def test_one_that_cools_once_the_contactor_is_open_does_not() -> None:
    bench = welded()
    bench.contactor_stuck = False
    bench.run(900)
    assert "both_welded" not in bench.alarms


def test_it_is_seen_after_stop_all_heat_as_well() -> None:
    bench = BenchKettle(plan_of(HOLD), liquid_c=60.0, stage="hold")
    bench.run(200)
    bench.heater_stuck = bench.contactor_stuck = True
    bench.tell(CommandKind.STOP_HEAT)
    bench.until(lambda: "both_welded" in bench.alarms, within_s=WITHIN_19_S)
    assert bench.batch is BatchState.ABORTED


def paused_with_a_probe_from_the_room(lag_s: float) -> BenchKettle:
    """Paused for five minutes; then the probe is put back from 21 °C and rises as its lag lets it."""
    bench = BenchKettle(plan_of(HOLD), liquid_c=66.0, stage="hold")
    bench.run(200)
    bench.tell(CommandKind.HOLD)
    bench.run(300)
    put_back_s = bench.now_s
    bench.reads = lambda: bench.liquid_c - 45.0 * exp(-(bench.now_s - put_back_s) / lag_s)
    return bench


@pytest.mark.parametrize("lag_s", [2.0, 8.0, 20.0])
def test_a_probe_that_is_put_back_while_paused_is_not_taken_for_heat(lag_s: float) -> None:
    bench = paused_with_a_probe_from_the_room(lag_s)
    bench.run(900)
    assert bench.state.evidence.control_c == pytest.approx(bench.liquid_c, abs=0.5)
    assert {"weld", "both_welded"}.isdisjoint(bench.alarms)


def test_switches_that_are_stuck_are_seen_behind_a_probe_that_was_put_back() -> None:
    bench = paused_with_a_probe_from_the_room(8.0)
    bench.heater_stuck = bench.contactor_stuck = True
    bench.until(lambda: "both_welded" in bench.alarms, within_s=SETTLES_S + WITHIN_19_S)


def test_in_a_mash_it_is_seen_as_soon_as_the_contactor_had_its_two_minutes_and_a_degree_counts_a_third() -> None:
    bench = BenchKettle(plan_of(HOLD), liquid_c=66.0, stage="hold", grain=Grain.IN)
    bench.run(200)
    bench.heater_stuck = bench.contactor_stuck = True
    bench.until(lambda: bench.state.hold_cause == "weld", within_s=400)
    from_c = bench.liquid_c
    took_s = bench.until(lambda: "both_welded" in bench.alarms, within_s=WITHIN_19_S)
    three_degrees_s = 3.0 * took_s / (bench.liquid_c - from_c)
    assert took_s == pytest.approx(OPEN_AFTER_S + three_degrees_s, abs=15.0)


def at_work(what: AskKind, *, litres: float | None = None, from_c: float = 60.0) -> BenchKettle:
    """Somebody works at the kettle and everything is told off."""
    stage = "hands_in" if ASK_ROWS[what].hands_in else "ask"
    step = AskStep(name="by hand", what=what, litres=litres)
    bench = BenchKettle(plan_of(step, STRIKE), liquid_c=from_c, stage=stage, volume_l=20.0, grain=Grain.LIFTED)
    bench.run(5)
    assert bench.off
    return bench


@pytest.mark.parametrize("what", [what for what in AskKind if not ASK_ROWS[what].exchanged])
def test_it_is_seen_while_hands_are_at_work(what: AskKind) -> None:
    bench = at_work(what)
    bench.heater_stuck = bench.contactor_stuck = True
    took_s = bench.until(lambda: "both_welded" in bench.alarms, within_s=WITHIN_19_S)
    assert took_s > OPEN_AFTER_S
    assert bench.batch in {BatchState.HOLDING, BatchState.HELD}


def test_it_is_seen_while_the_wort_is_to_be_chilled() -> None:
    bench = BenchKettle(plan_of(ChillStep(name="chill", to_c=20.0, water_c=14.0)), liquid_c=80.0, stage="fall")
    bench.run(5)
    bench.heater_stuck = bench.contactor_stuck = True
    bench.until(lambda: "both_welded" in bench.alarms, within_s=WITHIN_19_S)


@pytest.mark.parametrize(("what", "litres"), [(AskKind.INFUSE, 5.0), (AskKind.SPARGE, 5.0)])
def test_the_hottest_water_that_is_asked_for_is_no_heat(what: AskKind, litres: float) -> None:
    bench = at_work(what, litres=litres)
    mixed_c = (20.0 * 60.0 + litres * 100.0) / (20.0 + litres)
    while bench.liquid_c < mixed_c:
        bench.liquid_c += 0.2
        bench.tick()
    bench.run(600)
    assert bench.alarms in ([], ["unanswered"])


def test_what_stirring_brings_up_from_a_hotter_place_is_no_heat() -> None:
    bench = at_work(AskKind.STIR)
    for _ in range(20):
        bench.liquid_c += 0.95 * MIXES_C / 20.0
        bench.tick()
    bench.run(600)
    assert bench.alarms in ([], ["unanswered"])


@pytest.mark.parametrize("what", [what for what in AskKind if ASK_ROWS[what].exchanged])
def test_liquid_that_comes_or_goes_as_a_whole_says_nothing_of_the_switches(what: AskKind) -> None:
    bench = at_work(what)
    bench.liquid_c = 95.0
    bench.run(600)
    assert bench.alarms in ([], ["unanswered"])
