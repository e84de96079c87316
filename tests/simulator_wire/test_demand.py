"""Which demands a board accepts, and what it does with its outputs."""

from __future__ import annotations

import pytest

from kettlesim.wire_serial.burst import WINDOW_MS
from kettlesim.wire_serial.fittings import Drive, Fittings, Input
from kettlesim.wire_serial.pins import Pin
from tests.simulator_wire.bench import Bench, sealed


@pytest.mark.parametrize(
    "changes",
    [
        {"ttl": 199},
        {"ttl": 5001},
        {"h": 1001},
        {"p": 2},
        {"k": 2},
        {"z": 256},
    ],
)
def test_a_value_out_of_range_refuses_the_demand(changes: dict[str, int]) -> None:
    bench = Bench()
    bench.claim()
    assert bench.demand(**changes) == "range"


@pytest.mark.parametrize("ttl_ms", [200, 5000])
def test_the_shortest_and_the_longest_lease_are_taken(ttl_ms: int) -> None:
    bench = Bench()
    bench.claim()
    assert bench.demand(ttl=ttl_ms) == "A"


def test_a_board_of_shorter_leases_refuses_the_longer() -> None:
    bench = Bench(Fittings(longest_ttl_ms=2000))
    bench.claim()
    assert bench.demand(ttl=2001) == "range"
    assert bench.demand(ttl=2000) == "A"


@pytest.mark.parametrize("h", [1, 500, 999])
def test_a_contactor_is_given_no_fraction(h: int) -> None:
    bench = Bench(Fittings(drive=Drive.CONTACTOR))
    bench.claim()
    assert bench.demand(h=h) == "range"
    assert bench.demand(h=1000) == "A"


def test_a_malformed_demand_is_refused_and_changes_nothing() -> None:
    bench = Bench()
    bench.heat()
    left_ms = bench.board.lease_left_ms(bench.now_ms)
    assert bench.answer(f"O s={bench.board.session:08X} e={bench.up_ms} ttl=3000 h=0 p=0 k=0") == "key"
    assert bench.demand(h="half") == "key"
    assert bench.on() == {"heater", "contactor"}
    assert bench.board.lease_left_ms(bench.now_ms) == left_ms


@pytest.mark.parametrize(
    ("why", "changes"),
    [
        ("session", {"s": "1"}),
        ("range", {"ttl": 9999}),
        ("stale", {"e": 0}),
    ],
)
def test_a_refused_demand_changes_neither_outputs_nor_lease(why: str, changes: dict[str, int | str]) -> None:
    bench = Bench()
    bench.wait(10_000)
    bench.heat()
    left_ms = bench.board.lease_left_ms(bench.now_ms)
    assert bench.demand(**changes) == why
    assert bench.on() == {"heater", "contactor"}
    assert bench.board.lease_left_ms(bench.now_ms) == left_ms


def test_a_frame_with_a_bad_checksum_is_met_with_silence_and_counted() -> None:
    bench = Bench()
    bench.heat()
    session, left_ms = bench.board.session, bench.board.lease_left_ms(bench.now_ms)
    good = sealed(f"9 O s={session:08X} e={bench.up_ms} ttl=3000 h=0 p=0 k=0 z=0")
    assert bench.raw(good.replace(b"h=0", b"h=9")) == []
    assert bench.on() == {"heater", "contactor"}
    assert bench.board.lease_left_ms(bench.now_ms) == left_ms
    bench.wait(500)
    assert bench.newest().values["n"] == "1"


def test_heat_waits_until_the_main_contactor_was_on_for_200_ms() -> None:
    bench = Bench()
    bench.claim()
    assert bench.demand(h=1, k=1) == "order"
    assert bench.demand(k=1) == "A"
    bench.wait(199)
    assert bench.demand(h=1000, k=1) == "order"
    bench.wait(1)
    assert bench.demand(h=1000, k=1) == "A"


def test_a_contactor_that_opened_starts_its_200_ms_afresh() -> None:
    bench = Bench()
    bench.heat()
    assert bench.demand(k=0) == "A"
    assert bench.demand(k=1) == "A"
    bench.wait(199)
    assert bench.demand(h=1000, k=1) == "order"


def test_heat_without_contactor_is_allowed_as_a_weld_test() -> None:
    bench = Bench()
    bench.claim()
    assert bench.demand(h=1000, k=0) == "A"
    assert bench.on() == {"heater"}


def test_after_a_weld_test_the_contactor_closes_only_once_the_heater_was_off() -> None:
    bench = Bench()
    bench.claim()
    assert bench.demand(h=1000, k=0) == "A"
    assert bench.demand(h=0, k=1) == "order"
    assert bench.on() == {"heater"}
    assert bench.demand(h=0, k=0) == "A"
    assert bench.demand(h=0, k=1) == "A"
    assert bench.on() == {"contactor"}


def test_per_mille_become_a_burst_in_each_second() -> None:
    bench = Bench()
    bench.heat(350, ttl=5000)
    start_ms = bench.now_ms
    bench.wait(3000)
    edges = [(at_ms - start_ms, on) for at_ms, pin, on in bench.switched if pin is Pin.HEATER]
    assert edges == [(0, True), (350, False), (1000, True), (1350, False), (2000, True), (2350, False), (3000, True)]


def test_lowering_acts_in_mid_window() -> None:
    bench = Bench()
    bench.heat(800)
    bench.wait(300)
    assert bench.demand(h=200, k=1) == "A"
    assert "heater" not in bench.on()
    assert bench.board.outputs.heater_permille() == 200


def test_raising_waits_for_the_next_window() -> None:
    bench = Bench()
    bench.heat(200)
    bench.wait(500)
    assert bench.demand(h=900, k=1) == "A"
    assert "heater" not in bench.on()
    bench.wait(500)
    assert "heater" in bench.on()
    bench.wait(899)
    assert "heater" in bench.on()
    bench.wait(1)
    assert "heater" not in bench.on()


def test_full_power_never_blinks() -> None:
    bench = Bench()
    bench.heat(1000, ttl=5000)
    bench.wait(4500)
    assert [on for _, pin, on in bench.switched if pin is Pin.HEATER] == [True]


def test_on_time_of_the_heater_pin_is_accumulated_and_reported() -> None:
    bench = Bench()
    bench.heat(250, ttl=5000)
    bench.wait(4 * WINDOW_MS)
    bench.demand(h=0, k=1)
    bench.wait(500)
    assert bench.newest().values["on"] == str(4 * 250)


def test_buzzer_sounds_as_demanded_and_falls_silent_with_the_lease() -> None:
    bench = Bench()
    bench.claim()
    bench.demand(z=3)
    assert bench.board.buzzer == 3
    bench.wait(3000)
    assert bench.board.buzzer == 0


@pytest.mark.parametrize("latching", [Input.FOAM, Input.LEVEL_LOW, Input.CUTOUT, Input.STOP])
def test_a_latching_input_drops_heater_and_contactor_at_once_and_leaves_the_pump(latching: Input) -> None:
    bench = Bench()
    bench.heat(p=1)
    bench.press(latching)
    assert bench.on() == {"pump"}
    assert bench.switched[-1][0] == bench.now_ms


@pytest.mark.parametrize("harmless", [Input.FLOW, Input.LOAD, Input.CONFIRM])
def test_other_inputs_switch_nothing(harmless: Input) -> None:
    bench = Bench()
    bench.heat()
    bench.press(harmless)
    assert bench.on() == {"heater", "contactor"}


def test_a_latched_input_holds_until_a_demand_without_heat_that_has_heard_of_it() -> None:
    bench = Bench()
    bench.heat()
    before_ms = bench.up_ms
    bench.press(Input.STOP)
    bench.press(Input(0))
    bench.wait(100)
    assert bench.demand(h=1000, k=1) == "input"
    assert bench.demand(h=1000, k=0) == "input"
    assert bench.demand(e=before_ms) == "A"
    assert bench.demand(e=before_ms, k=1) == "input"
    assert bench.demand(k=1) == "A"
    bench.wait(200)
    assert bench.demand(h=1000, k=1) == "A"


def test_neither_heat_nor_contactor_return_while_the_input_is_on() -> None:
    bench = Bench()
    bench.heat()
    bench.press(Input.FOAM)
    bench.wait(100)
    assert bench.demand(p=1) == "A"
    assert bench.demand(k=1) == "input"
    assert bench.demand(h=1000) == "input"
    assert bench.on() == {"pump"}
    bench.press(Input(0))
    assert bench.demand(k=1) == "A"


def test_foam_that_rises_again_latches_again() -> None:
    bench = Bench()
    bench.heat()
    bench.press(Input.FOAM)
    bench.wait(100)
    told_ms = bench.up_ms
    assert bench.demand() == "A"
    bench.press(Input(0))
    bench.press(Input.FOAM)
    bench.press(Input(0))
    assert bench.demand(e=told_ms) == "A"
    assert bench.demand(h=1000) == "input"


def test_an_input_that_is_on_at_boot_latches_too() -> None:
    bench = Bench()
    bench.press(Input.LEVEL_LOW)
    bench.board.reboot("por", bench.now_ms)
    bench.wait(500)
    bench.press(Input(0))
    bench.claim()
    assert bench.demand(h=1000) == "input"


@pytest.mark.parametrize("harmless", [Input.FLOW, Input.LOAD, Input.CONFIRM])
def test_another_input_that_is_on_at_boot_latches_nothing(harmless: Input) -> None:
    bench = Bench()
    bench.press(harmless)
    bench.board.reboot("por", bench.now_ms)
    bench.wait(500)
    bench.claim()
    assert bench.demand(h=1000) == "A"


def test_a_board_without_an_input_never_hears_of_it() -> None:
    bench = Bench(Fittings(inputs=Input.FOAM))
    bench.heat()
    bench.press(Input.STOP)
    assert bench.on() == {"heater", "contactor"}


def test_claiming_does_not_release_a_latch() -> None:
    bench = Bench()
    bench.press(Input.CUTOUT)
    bench.press(Input(0))
    bench.claim()
    assert bench.demand(h=1000) == "input"
