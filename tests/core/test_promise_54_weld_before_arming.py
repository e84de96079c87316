"""Promise 54: a switch before the element is stuck closed already in the evening."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kettlebridge.core.arming_phases import WELD_RISE_C
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.event import EventCode
from kettlebridge.model.reading import BoardInput
from tests.core.leased_bench import LeasedBench


def evening() -> LeasedBench:
    bench = LeasedBench()
    bench.run(3)
    return bench


@pytest.mark.parametrize(
    ("stuck", "phase", "reason"),
    [
        ("heater_stuck", "contactor_alone", "arm_heater_welded"),
        ("contactor_stuck", "heater_alone", "arm_contactor_welded"),
    ],
)
def test_a_stuck_switch_is_found_by_the_heat_that_the_other_one_makes_alone(
    stuck: str, phase: str, reason: str
) -> None:
    bench = evening()
    setattr(bench, stuck, True)
    bench.reach(phase)
    begun_c = bench.liquid_c
    assert bench.be_refused() == reason
    assert bench.told_off()
    bench.run(30)
    assert bench.liquid_c - begun_c < 1.5
    assert bench.of(EventCode.ARMING)[-1].get("ended_in") == phase


@pytest.mark.parametrize("rise_c", [WELD_RISE_C - 0.1, WELD_RISE_C + 0.1])
def test_half_a_degree_is_a_rise_and_less_is_none(rise_c: float) -> None:
    bench = evening()
    bench.reach("heater_alone")
    bench.alive, bench.liquid_c = False, bench.state.arming.lowest_c + rise_c
    bench.run(6)
    assert (bench.phase == "heater_alone") == (rise_c < WELD_RISE_C)


def test_a_probe_that_still_comes_down_hides_no_heat() -> None:
    """Cold water was just poured in: 0.8 °C down and 0.6 °C up is a rise."""
    bench = evening()
    bench.reach("contactor_alone")
    bench.alive, begun_c = False, bench.liquid_c
    for liquid_c in (begun_c - 0.4, begun_c - 0.8, begun_c - 0.5, begun_c - 0.2):
        bench.liquid_c = liquid_c
        bench.run(6)
    assert bench.refused == "arm_heater_welded"


@pytest.mark.parametrize("phase", ["contactor_alone", "heater_alone"])
def test_a_current_that_load_sense_feels_is_found_at_once(phase: str) -> None:
    bench = evening()
    bench.reach(phase)
    bench.inputs_on |= BoardInput.LOAD
    bench.tick()
    assert bench.refused in {"arm_heater_welded", "arm_contactor_welded"}
    assert bench.told_off()


@pytest.mark.parametrize(
    ("phase", "pins", "reason"),
    [
        ("contactor_alone", {"main_contactor_closed": False}, "arm_contactor_silent"),
        ("heater_alone", {"heater_permille": 0}, "arm_heater_silent"),
    ],
)
def test_a_switch_that_does_not_read_as_told_shows_nothing(phase: str, pins: dict[str, int], reason: str) -> None:
    bench = evening()
    bench.reach(phase)
    bench.pins = lambda board: replace(board, **pins)  # type: ignore[arg-type]  # a pin by its name
    assert bench.be_refused(within_s=10) == reason
    assert bench.told_off()


def test_a_board_that_keeps_the_heater_on_is_refused_and_the_day_is_held() -> None:
    bench = evening()
    bench.reach("drop")
    bench.keeps_on = True
    bench.be_refused(within_s=4)
    assert bench.refused == "arm_held_on"
    assert bench.told_off()
    bench.pins = lambda board: replace(board, heater_permille=1000)
    bench.until(lambda: bench.batch is BatchState.HELD, within_s=10)
    assert "beyond_told" in bench.alarms


def test_a_board_that_never_switched_the_heater_on_has_shown_nothing() -> None:
    bench = evening()
    bench.reach("contactor_first")
    bench.deaf = True
    assert bench.be_refused(within_s=20) == "arm_heater_silent"


@pytest.mark.parametrize("granted", [0.0, 0.9, float("nan")])
def test_full_power_is_not_tried_on_a_circuit_that_does_not_grant_it(granted: float) -> None:
    bench = evening()
    bench.reach("contactor_first")
    bench.limit_fraction = granted
    bench.until(lambda: bench.phase == "drop", within_s=10)
    assert bench.heater == 0
    assert bench.be_refused(within_s=10) == "arm_heater_silent"


def test_a_board_whose_last_word_got_lost_has_shown_nothing() -> None:
    bench = evening()
    bench.mute = True
    bench.reach("drop")
    assert bench.be_refused(within_s=10) == "arm_drop_unseen"
    bench.run(3)
    assert bench.off


def test_a_board_that_takes_its_time_to_come_back_trips_nothing() -> None:
    """Opening its port starts it anew: ten seconds without a temperature, while nothing is on."""
    bench = evening()
    bench.away_s = 10.0
    bench.reads = lambda: None if bench.now_s < bench.back_s else bench.liquid_c
    bench.reach("call")
    assert (bench.batch, bench.of(EventCode.TRIP)) == (BatchState.RUNNING, [])
    bench.reads = lambda: None
    bench.run(5)
    assert bench.batch is BatchState.HELD


def test_a_board_that_does_not_come_back_is_refused() -> None:
    bench = evening()
    bench.stays_away = True
    bench.reach("rejoin")
    assert bench.be_refused(within_s=20) == "arm_no_rejoin"


def test_a_test_call_that_nobody_answers_is_a_kettle_that_is_not_armed() -> None:
    bench = evening()
    bench.reach("call")
    assert bench.be_refused(within_s=200) == "arm_call_unanswered"
    assert (bench.calls, bench.told_off()) == ([], True)
