"""A second master on the same pair of wires, and a line on which every answer is damaged."""

from __future__ import annotations

import asyncio

import pytest

from kettlebridge.model.errors import LinkReason
from kettlesim.line_proxy import Damage
from kettlesim.wire_modbus.frames import sealed
from kettlesim.world import AddWater
from tests.drivers_modbus.room import ON, RELAYS, SENSORS, WALL, Room, lived, pins

ASKS_EVERY_S = 0.17
FOREIGN_READ = sealed(bytes([SENSORS, 4, 0, 7, 0, 1]))
FOREIGN_ON = sealed(bytes([RELAYS, 5, 2, 0, 0, 30]))
"""Heater on for three seconds: what a second service would write."""


async def _asking(room: Room, frame: bytes) -> None:
    assert room.proxy is not None
    while True:
        room.proxy.to_board.inject(frame)
        await room.after(ASKS_EVERY_S)


async def _beside(room: Room, frame: bytes, for_s: float) -> None:
    other = asyncio.create_task(_asking(room, frame), name="the other master")
    await room.after(for_s)
    other.cancel()
    await asyncio.wait({other})


def test_a_second_master_s_answers_are_never_taken_for_temperatures_of_another_probe() -> None:
    """It asks for the kitchen's register, and its answers come to both."""

    async def scene(room: Room) -> None:
        await room.join()
        room.world.act(AddWater(8.0, 60.0))
        room.inbox.wants = ON
        apart_c = []
        for _ in range(120):
            await _beside(room, FOREIGN_READ, 0.5)
            sample = room.inbox.samples.get(WALL)
            if sample is not None and sample.value_c is not None:
                apart_c.append(abs(sample.value_c - room.world.reading_c("control")))
            if room.serving is not None and room.serving.done():
                break
        assert len(apart_c) > 5
        assert max(apart_c) < 1.0
        assert abs(room.world.reading_c("control") - room.world.reading_c("ambient")) > 3.0, "the two can be told apart"

    lived(scene, proxied=True)


def test_a_second_master_that_switches_is_seen_in_the_read_back() -> None:
    async def scene(room: Room) -> None:
        assert room.proxy is not None
        await room.join()
        await room.after(1.0)
        assert pins(room)[0] is False
        room.proxy.to_board.inject(FOREIGN_ON)
        await room.after(1.0)
        assert max(report.board.heater_permille for _, report in room.inbox.reports) == 1000

    lived(scene, proxied=True)


def test_damaged_answers_end_the_session_with_the_name_of_what_cannot_be_read(
    caplog: pytest.LogCaptureFixture,
) -> None:
    async def scene(room: Room) -> None:
        assert room.proxy is not None
        await room.join()
        room.inbox.wants = ON
        await room.after(3.0)
        room.proxy.to_host.damage = Damage(flip=1.0)
        lost = await room.lost(within_s=6.0)
        assert lost.reason is LinkReason.LOST
        assert "damaged" in lost.detail
        assert "relay heater" in lost.detail
        await room.after(3.5)
        assert pins(room)[0::2] == (False, False)

    lived(scene, proxied=True)
