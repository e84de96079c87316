"""One question at a time: what comes late or unasked is nobody's answer, and frames keep their distance."""

from __future__ import annotations

import pytest

from kettlebridge.drivers.modbus.codec import SILENT, Read
from kettlebridge.drivers.modbus.exchange import ANSWER_S, Exchange, quiet_s
from kettlebridge.drivers.modbus.port import open_port
from kettlebridge.model.modbus_map import Area
from kettlesim.line_proxy import Damage
from tests.drivers_modbus.room import MAP, SENSORS, Room, lived

WALL = Read(unit=SENSORS, area=Area.INPUT_REGISTERS, address=0, count=1)
KITCHEN = Read(unit=SENSORS, area=Area.INPUT_REGISTERS, address=7, count=1)


def test_an_answer_that_came_while_nobody_waited_is_thrown_away() -> None:
    """The wall's answer is held up beyond its time, and is there before the kitchen is asked for."""

    async def scene(room: Room) -> None:
        assert room.proxy is not None
        port = await open_port(room.settings.port, MAP, room.clock)
        exchange = Exchange(port, room.settings, room.clock)
        room.proxy.to_host.damage = Damage(least_delay_s=ANSWER_S + 0.02, most_delay_s=ANSWER_S + 0.02)
        assert await exchange.ask(WALL) == SILENT
        await room.after(1.0)
        room.proxy.to_host.damage = Damage()
        said = await exchange.ask(KITCHEN)
        assert isinstance(said, tuple)
        assert said[0] / 10 == pytest.approx(room.world.reading_c("ambient"), abs=0.7)
        port.close()

    lived(scene, proxied=True)


def test_after_silence_the_line_is_given_time_to_fall_quiet() -> None:
    """The held-up answer comes just after its time: it must not be taken for the answer to the next question."""

    async def scene(room: Room) -> None:
        assert room.proxy is not None
        port = await open_port(room.settings.port, MAP, room.clock)
        exchange = Exchange(port, room.settings, room.clock)
        room.proxy.to_host.damage = Damage(least_delay_s=ANSWER_S - 0.01, most_delay_s=ANSWER_S - 0.01)
        assert await exchange.ask(WALL) == SILENT
        room.proxy.to_host.damage = Damage()
        said = await exchange.ask(KITCHEN)
        assert isinstance(said, tuple)
        assert said[0] / 10 == pytest.approx(room.world.reading_c("ambient"), abs=0.7)
        port.close()

    lived(scene, proxied=True)


def test_frames_are_apart_by_three_and_a_half_characters() -> None:
    async def scene(room: Room) -> None:
        port = await open_port(room.settings.port, MAP, room.clock)
        exchange = Exchange(port, room.settings, room.clock)
        begun_s = room.clock.now_s()
        for _ in range(10):
            assert isinstance(await exchange.ask(WALL), tuple)
        least_s = 10 * (8 + 7) * 11 / MAP.baud + 9 * quiet_s(MAP.baud)
        assert room.clock.now_s() - begun_s >= least_s
        assert room.clock.now_s() - begun_s == pytest.approx(least_s + 10 * 0.005, abs=0.025)
        assert room.modules.collisions == 0
        port.close()

    lived(scene)


def test_fast_lines_keep_the_standard_s_fixed_gap() -> None:
    assert quiet_s(9600) == pytest.approx(0.00401, abs=1e-5)  # 3.5 characters of 11 bits
    assert quiet_s(115200) == 0.00175  # MODBUS over Serial Line 1.02, 2.5.1.1
