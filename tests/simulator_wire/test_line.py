"""A board on a pseudo-terminal in accelerated time."""

from __future__ import annotations

import os
import termios
import time

import pytest

from kettlebridge.runtime.clock import PacedClock, run_paced
from kettlesim.wire_serial.fittings import Input
from kettlesim.wire_serial.line import ACCELERATED, BYTE_MS, REAL_TIME
from kettlesim.wire_serial.pins import Pin
from kettlesim.wire_serial.port import Port
from kettlesim.world import AddWater, Drain
from tests.simulator_wire.host import Host, kettle, running


def test_water_gets_as_warm_as_the_energy_that_the_wire_let_through() -> None:
    async def day(clock: PacedClock) -> None:
        serial = kettle(clock)
        async with running(serial):
            host = Host(clock, serial.port)
            await host.claim()
            await host.heat(600, h=500)
            host.end.close()
            assert host.kinds()["A"] == 602
            on_ms = int(host.newest("T").values["on"])
            assert on_ms == pytest.approx(300_000, abs=1_000)
            assert serial.world.truth().electric_j == pytest.approx(on_ms * 3.0, rel=0.005)
            warmer_c = serial.world.truth().bulk_c - 15.0
            assert warmer_c == pytest.approx(on_ms * 3.0 / (25 * 4186), rel=0.1)  # less what kettle and room took

    run_paced(day)


@pytest.mark.parametrize("pace", [REAL_TIME, ACCELERATED])
def test_the_heat_of_a_burst_is_the_same_at_every_pace(pace: object) -> None:
    async def day(clock: PacedClock) -> None:
        serial = kettle(clock, pace=REAL_TIME if pace is REAL_TIME else ACCELERATED)
        async with running(serial):
            host = Host(clock, serial.port)
            await host.claim()
            await host.heat(60, h=333)
            host.say("X")
            await host.wait(1.0)
            host.end.close()
            on_ms = serial.board.heater_on_ms(serial.now_ms())
            assert on_ms == pytest.approx(60 * 333, abs=20)
            assert serial.world.truth().electric_j == pytest.approx(on_ms * 3.0, rel=1e-6)

    run_paced(day)


def test_a_report_takes_its_time_on_the_wire() -> None:
    async def day(clock: PacedClock) -> None:
        serial = kettle(clock)
        async with running(serial):
            host = Host(clock, serial.port)
            await host.wait(10.0)
            host.end.close()
            reports = [(at_s, int(frame.values["up"])) for at_s, frame in host.heard if frame.kind == "T"][2:]
            assert len(reports) > 15
            for at_s, up_ms in reports:
                assert 75 * BYTE_MS < at_s * 1000 - up_ms < 130 * BYTE_MS

    run_paced(day)


def test_an_answer_comes_after_question_and_answer_have_passed_the_wire() -> None:
    async def day(clock: PacedClock) -> None:
        serial = kettle(clock)
        async with running(serial):
            host = Host(clock, serial.port)
            await host.wait(1.75)
            asked_s = clock.now_s()
            host.say("Q v=1")
            await host.wait(0.2)
            host.end.close()
            answered_s = next(at_s for at_s, frame in host.heard if frame.kind == "B" and at_s > asked_s)
            wire_bytes = len("@1 Q v=1*0000\r\n") + len(
                "@1 B v=1.0 id=28A4 boot=5C21E07A rc=por max=5000 cap=3F*A666\r\n"
            )
            assert answered_s - asked_s == pytest.approx(wire_bytes * BYTE_MS / 1000, abs=0.004)

    run_paced(day)


def test_frames_written_together_reach_the_board_one_after_the_other() -> None:
    async def day(clock: PacedClock) -> None:
        serial = kettle(clock)
        pumped_ms: list[int] = []
        serial.board.outputs.pins.watch = lambda _pin, _on, at_ms: pumped_ms.append(at_ms)
        async with running(serial):
            host = Host(clock, serial.port)
            await host.claim()
            written_ms = serial.now_ms()
            host.demand(p=1)
            host.demand(p=0)
            await host.wait(0.5)
            host.end.close()
        frame_ms = len(f"@3 O s={host.sid} e=1500 ttl=3000 h=0 p=1 k=0 z=0*0000\r\n") * BYTE_MS
        assert pumped_ms == pytest.approx([written_ms + frame_ms, written_ms + 2 * frame_ms], abs=2)

    run_paced(day)


def test_a_host_that_goes_silent_loses_its_outputs_when_the_lease_ends() -> None:
    async def day(clock: PacedClock) -> None:
        serial = kettle(clock)
        switched: list[tuple[int, Pin, bool]] = []
        serial.board.outputs.pins.watch = lambda pin, on, at_ms: switched.append((at_ms, pin, on))
        async with running(serial):
            host = Host(clock, serial.port)
            await host.claim()
            await host.heat(5)
            lease_end_ms = serial.now_ms() + serial.board.lease_left_ms(serial.now_ms())
            await host.wait(10.0)
            host.end.close()
        assert (lease_end_ms, Pin.HEATER, False) in switched

    run_paced(day)


def test_a_host_may_close_and_reopen_the_port_and_finds_no_old_news() -> None:
    async def day(clock: PacedClock) -> None:
        serial = kettle(clock)
        async with running(serial):
            first = Host(clock, serial.port)
            await first.claim()
            first.end.close()
            await clock.sleep_until(clock.now_s() + 3600.0)
            second = Host(clock, serial.port)
            await second.wait(5.0)
            second.end.close()
            assert all(at_s > 3600.0 for at_s, _ in second.heard)
            assert all(int(frame.values["up"]) > 3_600_000 for _, frame in second.heard if frame.kind == "T")
            assert second.garbled == 0

    run_paced(day)


def test_the_port_is_raw_from_the_start_and_echoes_nothing() -> None:
    async def day(clock: PacedClock) -> None:
        serial = kettle(clock)
        fd = os.open(serial.port, os.O_RDWR | os.O_NOCTTY)
        try:
            assert not termios.tcgetattr(fd)[3] & (termios.ECHO | termios.ICANON)
        finally:
            os.close(fd)
        async with running(serial):
            await clock.sleep_until(1.0)

    run_paced(day)


def test_two_boards_share_one_clock() -> None:
    async def day(clock: PacedClock) -> None:
        one, two = kettle(clock), kettle(clock)
        async with running(one, two):
            hosts = [Host(clock, one.port), Host(clock, two.port)]
            for host in hosts:
                await host.claim()
            await hosts[0].heat(60)
            for host in hosts:
                host.end.close()
            assert one.world.truth().electric_j > 150_000
            assert two.world.truth().electric_j == 0.0

    run_paced(day)


def test_inputs_follow_the_kettle() -> None:
    async def day(clock: PacedClock) -> None:
        serial = kettle(clock)
        async with running(serial):
            host = Host(clock, serial.port)
            await host.claim()
            for _ in range(20):
                host.demand(p=1)
                await host.wait(1.0)
            flowing = serial.board.inputs
            assert flowing == Input.FLOW
            await host.heat(3)
            assert serial.board.inputs & Input.LOAD
            serial.act(Drain())
            await host.wait(1.0)
            assert serial.board.inputs & Input.LEVEL_LOW
            assert not serial.board.outputs.pins.is_on(Pin.HEATER)
            serial.act(AddWater(20.0, 15.0))
            await host.wait(1.0)
            assert not serial.board.inputs & Input.LEVEL_LOW
            host.end.close()

    run_paced(day)


def test_a_button_is_pressed_and_let_go() -> None:
    async def day(clock: PacedClock) -> None:
        serial = kettle(clock)
        async with running(serial):
            host = Host(clock, serial.port)
            await host.wait(2.0)
            serial.press(Input.CONFIRM)
            await host.wait(2.0)
            host.end.close()
            pressed = [at_s for at_s, frame in host.heard if frame.kind == "T" and frame.values["d"] == "20"]
            assert pressed
            assert host.newest("T").values["d"] == "00"

    run_paced(day)


def test_a_welded_heater_heats_and_load_sense_tells_although_its_pin_is_off() -> None:
    async def day(clock: PacedClock) -> None:
        serial = kettle(clock)
        serial.wiring.heater_welded = serial.wiring.contactor_welded = True
        async with running(serial):
            await clock.sleep_until(10.0)
            assert serial.world.truth().electric_j == pytest.approx(30_000, rel=0.06)
            assert serial.board.inputs == Input.LOAD
            serial.world.element_open = True
            await clock.sleep_until(12.0)
            assert serial.board.inputs == Input(0)

    run_paced(day)


def test_a_stuck_input_keeps_its_level() -> None:
    async def day(clock: PacedClock) -> None:
        serial = kettle(clock)
        serial.wiring.stuck[Input.FOAM] = True
        async with running(serial):
            await clock.sleep_until(1.0)
            assert serial.board.inputs == Input.FOAM

    run_paced(day)


def test_a_board_is_rebooted_where_it_hangs() -> None:
    async def day(clock: PacedClock) -> None:
        serial = kettle(clock)
        async with running(serial):
            host = Host(clock, serial.port)
            await host.claim()
            await host.heat(5)
            serial.reboot("brown")
            assert not serial.board.outputs.pins.is_on(Pin.HEATER)
            await host.wait(1.0)
            host.end.close()
            assert host.newest("B").values["rc"] == "brown"

    run_paced(day)


def test_a_flood_of_questions_neither_fills_the_memory_nor_delays_the_rest_for_long() -> None:
    async def day(clock: PacedClock) -> None:
        serial = kettle(clock)
        async with running(serial):
            host = Host(clock, serial.port)
            for _ in range(2000):
                host.say("Q v=1")
                await host.wait(0.001)
            await host.wait(20.0)
            asked_s = clock.now_s()
            await host.claim()
            host.end.close()
            assert any(frame.kind == "A" and at_s > asked_s for at_s, frame in host.heard)

    run_paced(day)


def test_bytes_from_a_closed_port_leave_the_gates_as_they_were() -> None:
    async def day(clock: PacedClock) -> None:
        port = Port(clock)
        port.listen(lambda _: None)
        port.write(b"nobody is there")
        assert clock.gate(f"{port.path}<").count == 0
        assert not port.is_open()
        port.close()

    run_paced(day)


@pytest.mark.slow
def test_accelerated_time_is_worth_its_name() -> None:
    """Hundreds of times real time on an idle core; the bound leaves room for a busy one."""

    async def day(clock: PacedClock) -> float:
        serial = kettle(clock)
        async with running(serial):
            host = Host(clock, serial.port)
            await host.claim()
            started_s = time.perf_counter()
            await host.heat(300)
            host.end.close()
            return 300.0 / (time.perf_counter() - started_s)

    assert run_paced(day) > 100.0
