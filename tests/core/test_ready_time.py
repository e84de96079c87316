"""Ready at a set time: the start follows the night, and the strike water follows the grain."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kettlebridge.core.calls import CallKind
from kettlebridge.core.steps.heat import for_grain_c
from kettlebridge.model.event import EventCode
from kettlebridge.model.plan import HeatStep, Water
from tests.core.bench_kettle import STARTED_UTC_S, STRIKE, BenchKettle, plan_of
from tests.core.test_forecast import LEARNT, ahead

READY = HeatStep(name="strike", to_c=70.0, ready=True)
MASH_WATER = Water(fill_l=20.0, grain_kg=4.0, grain_c=18.0)


def waiting(ready_s: float, *, liquid_c: float = 20.0, **changes: object) -> BenchKettle:
    plan = plan_of(READY, STRIKE, water=MASH_WATER, ready_at_utc_s=STARTED_UTC_S + ready_s)
    return BenchKettle(replace(plan, **changes), liquid_c=liquid_c, stage="wait", armed=True)  # type: ignore[arg-type]  # of a plan


def begins_s(bench: BenchKettle, within_s: float) -> float:
    return bench.until(lambda: bench.stage == "heat", within_s=within_s, dt_s=5.0)


def test_a_kettle_known_to_be_slow_begins_earlier() -> None:
    assert begins_s(waiting(4000.0, learnt=LEARNT), 4000.0) < begins_s(waiting(4000.0), 4000.0) - 300.0


def test_colder_water_is_begun_with_earlier() -> None:
    assert begins_s(waiting(4000.0, liquid_c=25.0), 4000.0) < begins_s(waiting(4000.0, liquid_c=40.0), 4000.0) - 300.0


def test_the_forecast_says_when_heating_begins() -> None:
    bench = waiting(4000.0)
    bench.run(5)
    foreseen = ahead(bench).heats_from
    assert foreseen is not None
    assert begins_s(bench, 4000.0) + 5.0 == pytest.approx(foreseen.at_s, abs=10.0)
    assert ahead(bench).heats_from is None


def test_a_time_that_cannot_be_met_is_said_and_heating_begins_at_once() -> None:
    bench = waiting(600.0)
    bench.run(2)
    (late,) = bench.of(EventCode.READY_LATE)
    assert bench.stage == "heat"
    assert float(late.get("late_s") or 0.0) == pytest.approx(1800.0 - 600.0, abs=120.0)
    assert waiting(4000.0).of(EventCode.READY_LATE) == []


def test_colder_grain_takes_hotter_water_and_the_day_goes_on_by_itself() -> None:
    bench = waiting(600.0, liquid_c=66.0)
    bench.until(lambda: bench.stage == "hot_hold", within_s=1000.0)
    bench.tick()
    assert bench.confirm(CallKind.PRESENT, at_c=8.0) is None
    (told,) = bench.of(EventCode.GRAIN_TEMPERATURE)
    by_hand_c = 70.0 + 4.0 * 1700.0 / (20.0 * 4186.0 * 1.04) * 10.0
    assert told.get("target_c") == pytest.approx(by_hand_c, abs=0.01)
    assert bench.stage == "heat"
    bench.until(lambda: bench.state.stage.step_index == 1, within_s=400.0)
    assert bench.liquid_c == pytest.approx(by_hand_c, abs=0.4)
    assert [call for call in bench.calls if call is CallKind.PRESENT] == []


def test_warmer_grain_says_how_much_too_hot_the_water_is_and_waits_for_nothing() -> None:
    bench = waiting(600.0, liquid_c=66.0)
    bench.until(lambda: bench.stage == "hot_hold", within_s=1000.0)
    bench.tick()
    assert bench.confirm(CallKind.PRESENT, at_c=30.0) is None
    (told,) = bench.of(EventCode.GRAIN_TEMPERATURE)
    assert float(told.get("over_c") or 0.0) == pytest.approx(0.94, abs=0.4)
    assert bench.state.stage.step_index == 1


@pytest.mark.parametrize(
    ("water", "grain_c", "refused"),
    [
        (replace(MASH_WATER, grain_c=None), 10.0, "no_grain_temperature"),
        (MASH_WATER, 60.0, "grain_out_of_range"),
        (MASH_WATER, -40.0, "grain_out_of_range"),
    ],
)
def test_a_grain_temperature_that_means_nothing_is_refused_and_confirms_nothing(
    water: Water, grain_c: float, refused: str
) -> None:
    plan = plan_of(READY, STRIKE, water=water, ready_at_utc_s=STARTED_UTC_S + 300.0)
    bench = BenchKettle(plan, liquid_c=69.9, stage="heat", armed=True)
    bench.until(lambda: bench.stage == "hot_hold", within_s=200.0)
    bench.tick()
    assert bench.confirm(CallKind.PRESENT, at_c=grain_c) == refused
    assert bench.stage == "hot_hold"


def test_a_day_without_grain_is_corrected_for_none() -> None:
    assert for_grain_c(70.0, Water(fill_l=20.0, grain_c=18.0), 20.0, 5.0) is None
