"""Promise 25: the pump on liquid above 80 °C where it has no business, or with heat where it must not."""

from __future__ import annotations

import pytest

from kettlebridge.core.calls import CallKind
from kettlebridge.core.stage import StageState
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import CommandKind
from kettlebridge.model.kettle import ChillWay
from kettlebridge.model.plan import (
    AnyStep,
    BoilStep,
    ChillStep,
    CirculateStep,
    HeatStep,
    HopStandStep,
    RestStep,
)
from tests.core.bench_kettle import BenchKettle, plan_of

BOIL = BoilStep(name="boil", for_min=60.0, sanitise_last_min=10.0)
IN_LINE = ChillStep(name="chill", way=ChillWay.IN_LINE, to_c=20.0, water_c=12.0)
HOT: dict[str, tuple[AnyStep, str]] = {
    "sanitising": (BOIL, "boil"),
    "hop stand": (HopStandStep(name="s", at_c=88.0, for_min=20.0, pump=True), "stand"),
    "circulate": (CirculateStep(name="c", at_c=88.0, for_min=20.0), "circulate"),
    "transfer": (IN_LINE, "transfer"),
}


def at(step: AnyStep, stage: str, *, hoses: bool, liquid_c: float = 88.0) -> BenchKettle:
    bench = BenchKettle(plan_of(step), liquid_c=liquid_c, stage=stage)
    bench.alive = False
    answered = ((CallKind.HOSES, 0),) if hoses else ()
    timer_s = 52 * 60.0 if isinstance(step, BoilStep) else 0.0
    bench.state = bench.state._replace(stage=bench.state.stage._replace(answered=answered, timer_s=timer_s))
    return bench


@pytest.mark.parametrize(("step", "stage"), HOT.values(), ids=HOT)
def test_hot_wort_is_pumped_only_after_hoses_were_confirmed(step: AnyStep, stage: str) -> None:
    secured, loose = at(step, stage, hoses=True), at(step, stage, hoses=False)
    secured.run(3)
    loose.run(3)
    assert secured.pump
    assert not loose.pump


def test_the_sanitising_timer_alone_starts_no_pump() -> None:
    bench = at(BOIL, "boil", hoses=False, liquid_c=100.0)
    for _ in range(30):
        bench.tick(dt_s=4.0)
        assert not bench.pump
    assert CallKind.HOSES in bench.calls
    assert bench.confirm(CallKind.HOSES, at_kettle=False) == "at_kettle_only"
    assert bench.confirm(CallKind.HOSES) is None
    bench.tick()
    assert bench.pump
    assert bench.heater > 0


@pytest.mark.parametrize(
    ("step", "stage"),
    [
        (HeatStep(name="h", to_c=89.0, pump=True), "heat"),
        (RestStep(name="r", at_c=89.0, for_min=9.0, pump_after_min=0.0), "hold"),
    ],
)
def test_above_80_degrees_heat_and_rest_lose_their_pump_at_once(step: AnyStep, stage: str) -> None:
    bench = at(step, stage, hoses=False, liquid_c=79.0)
    bench.run(2)
    pumped = bench.pump
    bench.liquid_c = 80.5
    bench.tick()
    assert (pumped, bench.pump) == (True, False)


def drawing(liquid_c: float = 60.0) -> BenchKettle:
    bench = BenchKettle(plan_of(HeatStep(name="h", to_c=89.0)), liquid_c=liquid_c, stage="heat")
    bench.alive = False
    bench.run(3)
    assert bench.heater > 0
    return bench


def test_a_cup_is_drawn_with_the_heater_off_and_stops_when_let_go() -> None:
    bench = drawing()
    assert bench.tell(CommandKind.DRAW_OFF, on=True) is None
    assert (bench.pump, bench.heater) == (True, 0)
    assert bench.tell(CommandKind.DRAW_OFF, on=False) is None
    assert (bench.pump, bench.heater) == (False, 0)
    bench.run(3)
    assert bench.heater > 0


def test_a_draw_off_ends_by_itself_without_a_fresh_word() -> None:
    bench = drawing()
    bench.tell(CommandKind.DRAW_OFF, on=True)
    bench.run(2)
    assert not bench.pump


def test_a_word_held_for_ever_gives_30_seconds_of_pump_in_a_minute() -> None:
    bench = drawing()
    pumped_s = 0
    for second in range(60):
        verdict = bench.tell(CommandKind.DRAW_OFF, on=True)
        assert verdict == (None if second < 30 else "drawn_enough")
        pumped_s += bench.pump
        assert bench.heater == 0 or not bench.pump
    assert pumped_s == 30


def test_a_draw_off_is_a_word_at_the_kettle() -> None:
    bench = drawing()
    assert bench.tell(CommandKind.DRAW_OFF, on=True, at_kettle=False) == "at_kettle_only"
    assert not bench.pump


def test_nothing_is_drawn_from_a_kettle_nobody_filled() -> None:
    bench = BenchKettle(plan_of(HeatStep(name="h", to_c=89.0)), liquid_c=20.0, stage="heat", volume_l=None)
    bench.run(3)
    assert bench.tell(CommandKind.DRAW_OFF, on=True) == "nothing_in_the_kettle"
    assert not bench.pump


def test_a_hot_cup_wants_hoses_and_outlet_confirmed_first() -> None:
    bench = drawing(liquid_c=85.0)
    assert bench.tell(CommandKind.DRAW_OFF, on=True) is None
    assert not bench.pump
    assert bench.calls == [CallKind.HOSES]
    assert bench.tell(CommandKind.DRAW_OFF, on=True) == "hoses_first"
    assert bench.confirm(CallKind.HOSES, 1) is None
    assert bench.tell(CommandKind.DRAW_OFF, on=True) is None
    assert bench.pump


def test_hoses_confirmed_for_a_cup_start_no_sanitising_later() -> None:
    bench = at(BOIL, "boil", hoses=False, liquid_c=100.0)
    stage: StageState = bench.state.stage
    bench.state = bench.state._replace(stage=stage._replace(answered=((CallKind.HOSES, 1),)))
    bench.run(5)
    assert not bench.pump


def test_a_recirculated_mash_keeps_its_pump() -> None:
    bench = at(RestStep(name="r", at_c=78.0, for_min=9.0, pump_after_min=0.0), "hold", hoses=False, liquid_c=78.0)
    bench.run(30)
    assert bench.pump
    assert bench.batch is BatchState.RUNNING
