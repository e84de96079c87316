"""One question at a time: what comes late or unasked is nobody's answer, and frames keep their distance."""

from __future__ import annotations

import os
import tty

import pytest

from kettlebridge.drivers.modbus.codec import SILENT, Read
from kettlebridge.drivers.modbus.exchange import ANSWER_S, Exchange, quiet_s
from kettlebridge.drivers.modbus.port import open_port
from kettlebridge.drivers.modbus.settings import ModbusSettings
from kettlebridge.model.modbus_map import Area
from kettlebridge.runtime.clock import RealClock
from kettlesim.line_proxy import Damage
from kettlesim.wire_modbus.cells import Word
from kettlesim.wire_modbus.frames import sealed
from kettlesim.wire_modbus.module import Table
from tests.drivers_modbus.room import MAP, SENSORS, Room, lived

WALL = Read(unit=SENSORS, area=Area.INPUT_REGISTERS, address=0, count=1)
KITCHEN = Read(unit=SENSORS, area=Area.INPUT_REGISTERS, address=7, count=1)

TURNAROUND_S = 0.005
"""Of the simulated modules."""

ROUNDING_S = 0.001
"""They count in whole milliseconds, both ways."""


def boil(room: Room) -> None:
    """The wall is hot, the kitchen is not: their answers cannot be mixed up unnoticed."""
    cell = room.modules.modules[SENSORS].cells[Table.INPUT_REGISTERS, WALL.address]
    assert isinstance(cell, Word)
    cell.thermometer.stuck_c = 98.0


async def test_what_waited_in_the_port_before_the_question_is_no_answer() -> None:
    """As after a stall of the whole machine: the bytes are there before the loop has looked."""
    master, end = os.openpty()
    tty.setraw(end)
    clock = RealClock()
    port = await open_port(os.ttyname(end), MAP, clock)
    settings = ModbusSettings(port=os.ttyname(end), map=MAP, lease_s=3.0, bursts=True, require_simulated=False)
    exchange = Exchange(port, settings, clock)
    os.write(master, sealed(bytes.fromhex("01 04 02 03D4")))
    assert await exchange.ask(WALL) == SILENT
    port.close()
    os.close(master)
    os.close(end)


def test_an_answer_that_came_while_nobody_waited_is_thrown_away() -> None:
    """The wall's answer is held up beyond its time, and is there before the kitchen is asked for."""

    async def scene(room: Room) -> None:
        assert room.proxy is not None
        boil(room)
        port = await open_port(room.settings.port, MAP, room.clock)
        exchange = Exchange(port, room.settings, room.clock)
        room.proxy.to_host.damage = Damage(least_delay_s=ANSWER_S + 0.02, most_delay_s=ANSWER_S + 0.02)
        assert await exchange.ask(WALL) == SILENT
        await room.after(1.0)
        room.proxy.to_host.damage = Damage()
        said = await exchange.ask(KITCHEN)
        assert isinstance(said, tuple)
        assert said[0] / 10 == pytest.approx(18.0, abs=1.0)
        port.close()

    lived(scene, proxied=True)


def test_after_silence_the_line_is_given_time_to_fall_quiet() -> None:
    """The held-up answer comes just after its time: it must not be taken for the answer to the next question."""

    async def scene(room: Room) -> None:
        assert room.proxy is not None
        boil(room)
        port = await open_port(room.settings.port, MAP, room.clock)
        exchange = Exchange(port, room.settings, room.clock)
        room.proxy.to_host.damage = Damage(least_delay_s=ANSWER_S - 0.01, most_delay_s=ANSWER_S - 0.01)
        assert await exchange.ask(WALL) == SILENT
        room.proxy.to_host.damage = Damage()
        said = await exchange.ask(KITCHEN)
        assert isinstance(said, tuple)
        assert said[0] / 10 == pytest.approx(18.0, abs=1.0)
        port.close()

    lived(scene, proxied=True)


def test_frames_are_apart_by_three_and_a_half_characters() -> None:
    async def scene(room: Room) -> None:
        port = await open_port(room.settings.port, MAP, room.clock)
        exchange = Exchange(port, room.settings, room.clock)
        begun_s = room.clock.now_s()
        for _ in range(10):
            assert isinstance(await exchange.ask(WALL), tuple)
        on_the_wire_s = 10 * ((8 + 7) * 11 / MAP.baud + TURNAROUND_S + ROUNDING_S)
        assert room.clock.now_s() - begun_s == pytest.approx(on_the_wire_s + 9 * quiet_s(MAP.baud), abs=0.015)
        assert room.modules.collisions == 0
        port.close()

    lived(scene)


def test_fast_lines_keep_the_standard_s_fixed_gap() -> None:
    assert quiet_s(9600) == pytest.approx(0.00401, abs=1e-5)  # 3.5 characters of 11 bits
    assert quiet_s(115200) == 0.00175  # MODBUS over Serial Line 1.02, 2.5.1.1
