"""A heat step: as late as the ready time allows, settled before it is done, kept hot until the brewer is there."""

from __future__ import annotations

import pytest

from kettlebridge.core.calls import CallKind
from kettlebridge.core.heat import Contents, Way, boil_fraction, loss_fraction, reach_s, time_to_reach_s
from kettlebridge.core.known import beforehand, rise_by
from kettlebridge.core.steps.heat import READY_MARGIN_FRACTION, READY_MARGIN_S
from kettlebridge.core.steps.heating import SETTLED_S
from kettlebridge.model.command import CommandKind
from kettlebridge.model.event import EventCode
from kettlebridge.model.plan import AskKind, AskStep, HeatStep
from tests.core.bench_kettle import KETTLE, STARTED_UTC_S, STRIKE, BenchKettle, plan_of

FILL = AskStep(name="fill", what=AskKind.FILL)
READY = HeatStep(name="strike", to_c=70.0, ready=True)


def test_it_is_done_when_it_has_been_within_tolerance_for_half_a_minute() -> None:
    bench = BenchKettle(plan_of(STRIKE, STRIKE), liquid_c=69.5, stage="heat")
    bench.alive = False
    bench.run(60)
    assert bench.state.stage.step_index == 0
    bench.liquid_c = 69.8
    assert bench.until(lambda: bench.state.stage.step_index == 1, within_s=40) >= SETTLED_S


def test_a_probe_in_the_warm_layer_over_the_element_is_there_too() -> None:
    """It may read 0.6 °C above the mean that is held for as long as anything is heated: no step waits for ever."""
    bench = BenchKettle(plan_of(STRIKE, STRIKE), liquid_c=70.6, stage="heat")
    bench.alive = False
    assert bench.until(lambda: bench.state.stage.step_index == 1, within_s=40) >= SETTLED_S


def test_a_fill_of_no_litres_at_all_heats_nothing_and_stops_nothing() -> None:
    bench = BenchKettle(plan_of(FILL, STRIKE), stage="ask")
    bench.tick()
    assert bench.confirm(CallKind.ASK, litres=0.0) is None
    bench.run(10)
    assert bench.state.stage.step_index == 1
    assert bench.state.ledger.volume_l == 0.0
    assert bench.off


def test_leaving_the_tolerance_begins_the_half_minute_anew() -> None:
    bench = BenchKettle(plan_of(STRIKE, STRIKE), liquid_c=69.8, stage="heat")
    bench.alive = False
    for liquid_c in (69.8, 71.0, 69.8, 69.6, 70.2):
        bench.liquid_c = liquid_c
        bench.run(20)
    assert bench.state.stage.step_index == 0


def test_it_waits_cold_until_it_must_begin_to_be_there_in_time() -> None:
    rise = rise_by(beforehand(KETTLE, None), KETTLE, Contents(volume_l=20.0))
    needed_s = reach_s(rise, Way(from_c=20.0, to_c=70.0)) or 0.0
    lead_s = needed_s * (1 + READY_MARGIN_FRACTION) + READY_MARGIN_S
    plan = plan_of(READY, ready_at_utc_s=STARTED_UTC_S + lead_s + 60.0)
    bench = BenchKettle(plan, stage="wait", armed=True)
    bench.run(55)
    assert (bench.stage, bench.off) == ("wait", True)
    bench.run(10)
    assert bench.heater == 1000


def test_it_arrives_before_the_ready_time_and_waits_for_the_brewer() -> None:
    ready_s = 900.0
    plan = plan_of(READY, STRIKE, ready_at_utc_s=STARTED_UTC_S + ready_s)
    bench = BenchKettle(plan, liquid_c=62.0, stage="wait", armed=True)
    bench.until(lambda: bench.stage == "hot_hold", within_s=ready_s)
    assert ready_s - 240 < bench.now_s < ready_s
    bench.tick()
    assert bench.calls == [CallKind.PRESENT]
    assert bench.confirm(CallKind.PRESENT, at_kettle=False) is None
    assert bench.state.stage.step_index == 1


@pytest.mark.parametrize("volume_l", [None])
def test_while_it_waits_for_litres_nothing_is_started(volume_l: float | None) -> None:
    plan = plan_of(READY, ready_at_utc_s=STARTED_UTC_S)
    bench = BenchKettle(plan, stage="wait", volume_l=volume_l)
    bench.run(10)
    assert (bench.stage, bench.off) == ("wait", True)


def test_without_a_ready_time_it_begins_at_once_and_ends_without_a_word() -> None:
    bench = BenchKettle(plan_of(READY, STRIKE), liquid_c=69.9, stage="")
    bench.run(3)
    assert bench.stage == "heat"
    bench.run(40)
    assert bench.state.stage.step_index == 1
    assert bench.of(EventCode.CALL_RAISED) == []


def test_the_pump_runs_where_the_step_says_so() -> None:
    bench = BenchKettle(plan_of(HeatStep(name="h", to_c=70.0, pump=True)), stage="heat")
    bench.run(3)
    assert (bench.pump, bench.heater) == (True, 1000)


def test_time_to_reach_agrees_with_a_fine_integration() -> None:
    """Euler steps of 0.1 s of the same energy balance."""
    contents = Contents(volume_l=20.0, grain_kg=4.0)
    capacity = 4186.0 * 20.0 + 1700.0 * 4.0
    liquid_c, seconds = 20.0, 0.0
    while liquid_c < 70.0:
        liquid_c += (2500.0 - 2.0 * (liquid_c - 20.0)) / capacity * 0.1
        seconds += 0.1
    reached_s = time_to_reach_s(KETTLE, contents, Way(from_c=20.0, to_c=70.0))
    assert reached_s == pytest.approx(seconds + KETTLE.probe_delay_s, rel=1e-3)


@pytest.mark.parametrize(
    ("way", "fraction", "reached"),
    [
        (Way(from_c=70.0, to_c=60.0), 1.0, 0.0),
        (Way(from_c=20.0, to_c=100.0), 0.05, None),
        (Way(from_c=20.0, to_c=21.0), 0.0, None),
    ],
)
def test_nowhere_to_go_takes_no_time_and_out_of_reach_takes_for_ever(
    way: Way, fraction: float, reached: float | None
) -> None:
    assert time_to_reach_s(KETTLE, Contents(volume_l=20.0), way, fraction) == reached


def test_no_contents_no_time() -> None:
    assert time_to_reach_s(KETTLE, Contents(volume_l=0.0), Way(from_c=20.0, to_c=30.0)) is None


def test_fractions_of_power_stay_between_none_and_all() -> None:
    assert loss_fraction(KETTLE, 10.0, 20.0) == 0.0
    assert loss_fraction(KETTLE, 100.0, 20.0) == pytest.approx(160.0 / 2500.0)
    assert loss_fraction(KETTLE, 1e6, 20.0) == 1.0
    assert boil_fraction(KETTLE, 100.0, 20.0) == 1.0


def test_a_litre_boiled_off_takes_its_latent_heat() -> None:
    """IAPWS-95: 2256.5 kJ/kg at 1 atm, 0.9982 kg per litre at 20 °C."""
    watts_per_l_per_h = 2256.5e3 * 0.9982 / 3600.0
    net = (boil_fraction(KETTLE, 3.0, 20.0) - boil_fraction(KETTLE, 2.0, 20.0)) * KETTLE.heater_w
    assert net == pytest.approx(watts_per_l_per_h, rel=1e-3)


def test_heat_follows_the_main_contactor_by_half_a_second_even_when_something_wakes_the_tick() -> None:
    bench = BenchKettle(plan_of(STRIKE), stage="heat")
    bench.tick()
    assert (bench.contactor, bench.heater) == (True, 0)
    bench.run(0.4, dt_s=0.1)  # it reads closed already
    assert bench.heater == 0
    bench.tick(dt_s=0.15)
    assert bench.heater == 1000


def test_the_half_second_begins_anew_after_a_pause() -> None:
    bench = BenchKettle(plan_of(STRIKE), stage="heat")
    bench.run(3)
    bench.tell(CommandKind.HOLD)
    bench.tell(CommandKind.CARRY_ON)
    bench.until(lambda: bench.contactor, within_s=30)
    bench.tick(dt_s=0.1)
    assert (bench.contactor, bench.heater) == (True, 0)
    bench.tick(dt_s=0.5)
    assert bench.heater == 1000


def test_the_half_second_begins_anew_after_the_board_was_away() -> None:
    bench = BenchKettle(plan_of(STRIKE), stage="heat")
    bench.run(3)
    bench.linked = False
    bench.tick(dt_s=0.1)
    bench.linked = bench.contactor = True  # as a board that is slow to open it
    bench.run(0.3, dt_s=0.1)
    assert (bench.contactor, bench.heater) == (True, 0)
    bench.run(1)
    assert bench.heater == 1000
