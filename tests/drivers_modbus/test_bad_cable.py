"""Promise 6: a cable that drops, delays, flips, doubles and reorders frames both ways."""

from __future__ import annotations

import asyncio
import random

import pytest

from kettlebridge.model.demand import Output
from kettlebridge.model.errors import LinkReason
from kettlesim.line_proxy import CUT, Damage
from kettlesim.wire_serial.pins import Pin
from tests.drivers_modbus.room import OFF, ON, Room, lived

LEASE_S = 3.0
TICK_S = 1.0
MINUTES = 8
MOST_LOSSES = 4
"""Every sixth exchange fails here, so about once in these minutes nothing vital is read for three seconds."""

BAD_CABLE = Damage(drop=0.02, truncate=0.01, flip=0.02, duplicate=0.02, swap=0.02, least_delay_s=0.0, most_delay_s=0.1)

OUTPUTS = {Pin.HEATER: Output.HEATER, Pin.PUMP: Output.PUMP, Pin.CONTACTOR: Output.MAIN_CONTACTOR}


class Log:
    """When each output was wanted on, and when its pin went on."""

    def __init__(self, room: Room) -> None:
        self.wanted: dict[Output, list[float]] = {output: [] for output in OUTPUTS.values()}
        self.raised: list[tuple[float, Pin]] = []
        self._room = room
        room.modules.pins.watch = self._changed

    def _changed(self, pin: Pin, on: bool, _at_ms: int) -> None:
        if on:
            self.raised.append((self._room.clock.now_s(), pin))

    def unwanted(self) -> list[tuple[float, Pin]]:
        """Risings without a demand within the lease before."""
        return [
            (at_s, pin)
            for at_s, pin in self.raised
            if not any(at_s - LEASE_S <= wanted_s <= at_s for wanted_s in self.wanted[OUTPUTS[pin]])
        ]


async def ticks(room: Room, log: Log, rng: random.Random) -> None:
    """Demands of all kinds, each second, as a controller that changes its mind every six seconds."""
    wants = OFF
    for second in range(60 * MINUTES):
        if second % 6 == 0:
            wants = rng.choice([OFF, ON, ON | {Output.HEATER: 400}, ON | {Output.HEATER: 0}])
        if room.inbox.reports:
            room.inbox.offer(wants, room.inbox.board.board.acted_on)
            for output, permille in wants.items():
                if permille:
                    log.wanted[output].append(room.clock.now_s())
        await room.after(TICK_S)


def test_nothing_is_switched_on_behind_a_bad_cable_that_was_not_wanted() -> None:
    async def scene(room: Room) -> None:
        assert room.proxy is not None
        log = Log(room)
        await room.join()
        room.proxy.to_board.damage = room.proxy.to_host.damage = BAD_CABLE
        rejoining = asyncio.create_task(room.rejoin(), name="rejoining")
        await ticks(room, log, random.Random(5))  # noqa: S311 - habits, not secrets
        rejoining.cancel()
        await asyncio.wait({rejoining})
        reasons = [loss.reason for loss in room.losses]
        assert reasons.count(LinkReason.LOST) <= MOST_LOSSES
        assert set(reasons) <= {LinkReason.LOST, LinkReason.BUSY}
        for lane in (room.proxy.to_board, room.proxy.to_host):
            assert lane.damaged > 0.05 * lane.frames > 100
            assert set(lane.spoilt) == {"drop", "truncate", "flip", "duplicate", "swap"}
        assert len(log.raised) > 100
        assert log.unwanted() == []

    lived(scene, proxied=True)


def test_the_check_itself_finds_an_output_nobody_wanted() -> None:
    async def scene(room: Room) -> None:
        log = Log(room)
        room.modules.relays[0].switch(True, room.modules.now_ms())
        assert [pin for _, pin in log.unwanted()] == [Pin.HEATER]

    lived(scene)


@pytest.mark.parametrize("lane", ["to_board", "to_host"])
def test_a_cut_wire_ends_heat_within_the_lease(lane: str) -> None:
    """Promise 45 too: one direction alone is enough."""

    async def scene(room: Room) -> None:
        assert room.proxy is not None
        await room.join()
        room.inbox.wants = ON
        await room.after(5.0)
        getattr(room.proxy, lane).damage = CUT
        await room.after(LEASE_S + 0.5)
        room.modules.look()
        assert not room.modules.pins.is_on(Pin.HEATER)
        assert not room.modules.pins.is_on(Pin.CONTACTOR)

    lived(scene, proxied=True)


def test_what_was_held_on_the_wire_heats_no_longer_than_its_own_lease() -> None:
    """A module has no clock that a demand could be late by: what a wire holds back acts when it comes, and then ends.

    This is what Modbus cannot promise and the line protocol can; docs/connect.md says so.
    """

    async def scene(room: Room) -> None:
        assert room.proxy is not None
        await room.join()
        room.inbox.wants = ON
        await room.after(5.0)
        room.proxy.to_board.hold()
        await room.after(60.0)
        room.modules.look()
        assert not room.modules.pins.is_on(Pin.HEATER)
        await room.leave()
        room.proxy.to_board.release()
        await room.after(LEASE_S + 0.5)
        room.modules.look()
        assert not room.modules.pins.is_on(Pin.HEATER)

    lived(scene, proxied=True)
