"""All off on a line of modules without a session."""

from __future__ import annotations

import asyncio
from dataclasses import replace

import pytest

from kettlebridge.drivers.modbus.switching_off import switch_off
from kettlebridge.model.demand import Output
from kettlebridge.model.errors import LinkError
from tests.drivers_modbus.room import MAP, ON, RELAYS, Room, lived


async def _abandoned(room: Room) -> None:
    """A pump without a lease, left on by a service that died."""
    room.inbox.wants = ON
    await room.join()
    await room.after(3.0)
    assert room.inbox.board.board.pump_on
    assert room.inbox.board.board.heater_permille
    assert room.serving is not None
    room.line._relays.clear()  # it dies and says nothing
    room.serving.cancel()
    await asyncio.wait({room.serving})


def test_every_relay_is_off_also_one_without_a_lease() -> None:
    async def scene(room: Room) -> None:
        await _abandoned(room)
        await switch_off(room.settings, room.clock)
        await room.after(0.1)
        room.use()
        room.inbox.wants = None
        room.inbox.reports.clear()
        await room.join()
        board = room.inbox.board.board
        assert (board.heater_permille, board.pump_on, board.main_contactor_closed) == (0, False, False)

    lived(scene)


def test_one_relay_that_fails_holds_up_no_other_and_is_named() -> None:
    async def scene(room: Room) -> None:
        await _abandoned(room)
        absent = replace(MAP.relays[Output.HEATER], unit=9)
        wired = replace(MAP, relays={**MAP.relays, Output.HEATER: absent})
        with pytest.raises(LinkError, match=r"relay heater \(unit 9"):
            await switch_off(replace(room.settings, map=wired), room.clock)
        room.use()
        room.inbox.wants = None
        room.inbox.reports.clear()
        await room.after(3.0)
        await room.join()
        assert not room.inbox.board.board.pump_on

    assert RELAYS != 9
    lived(scene)
