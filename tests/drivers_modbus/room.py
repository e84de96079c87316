"""A kettle with simulated modules on a pty, the driver at the other end, and a clock that moves by itself."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager, suppress
from dataclasses import replace
from typing import TypeVar

from kettlebridge.drivers.modbus import ModbusLine, ModbusSettings
from kettlebridge.files.examples import config_folder
from kettlebridge.files.kettle_file import load_kettle
from kettlebridge.model.demand import Demand, Output
from kettlebridge.model.errors import LinkError, LinkReason
from kettlebridge.model.ids import ProbeName
from kettlebridge.model.modbus_map import Area, BitPlace, ModbusMap, RegisterPlace, RelayPlace, TimedOn
from kettlebridge.model.reading import BoardInput
from kettlebridge.model.sample import BoardReport, Sample
from kettlebridge.ports import Bridge, Clock
from kettlebridge.runtime.clock import PacedClock, run_paced
from kettlebridge.simulated.kettle import body_of
from kettlebridge.simulated.modbus import simulated_modules
from kettlesim.line_proxy import LineProxy, whole_chunks
from kettlesim.wire_modbus.line import ModbusLine as SimulatedLine
from kettlesim.wire_serial.line import ACCELERATED
from kettlesim.wire_serial.pins import Pin
from kettlesim.world import AddWater, World

T = TypeVar("T")
WALL, KITCHEN = ProbeName("wall"), ProbeName("kitchen")
FIRST_REPORT_S = 0.3
REFUSED_WITHIN_S = 5.0
SENSORS, RELAYS = 1, 2
"""Units on the line."""


def timed(address: int) -> RelayPlace:
    lease = TimedOn(area=Area.COILS, address=0x200 + address, step_ms=100)
    return RelayPlace(unit=RELAYS, area=Area.COILS, address=address, timed_on=lease)


MAP = ModbusMap(
    probes={
        WALL: RegisterPlace(unit=SENSORS, area=Area.INPUT_REGISTERS, address=0, scale=0.1, open_codes=(0x7FFF,)),
        KITCHEN: RegisterPlace(unit=SENSORS, area=Area.INPUT_REGISTERS, address=7, scale=0.1),
    },
    relays={
        Output.HEATER: timed(0),
        Output.MAIN_CONTACTOR: timed(1),
        Output.PUMP: RelayPlace(unit=RELAYS, area=Area.COILS, address=2),
    },
    inputs={BoardInput.STOP: BitPlace(unit=RELAYS, area=Area.DISCRETE_INPUTS, address=0)},
)


class Listener:
    """An inbox that keeps the newest of everything, and offers `wants` for each second report."""

    def __init__(self, clock: Clock) -> None:
        self.line: Bridge | None = None
        self.wants: dict[Output, int] | None = None
        self.reports: list[tuple[float, BoardReport]] = []
        self.samples: dict[ProbeName, Sample] = {}
        self.heard = 0
        self.is_linked = asyncio.Event()
        self._clock = clock

    def linked(self) -> None:
        """A session."""
        self.is_linked.set()

    def link_lost(self, reason: LinkReason, detail: str) -> None:
        """The keeper's affair, never the bridge's own."""
        raise AssertionError(reason, detail)

    def hear(self, samples: tuple[Sample, ...], report: BoardReport | None) -> None:
        """Kept, and answered as a tick would."""
        self.samples.update({sample.probe: sample for sample in samples})
        self.heard += 1
        if report is None:
            return
        self.reports.append((self._clock.now_s(), report))
        if self.heard % 2 == 0 and self.wants is not None:
            self.offer(self.wants, report.board.acted_on)

    def offer(self, wants: dict[Output, int], acted_on: int) -> None:
        """As a finished tick does."""
        assert self.line is not None
        self.line.offer(
            tuple(
                Demand(output=output, permille=permille, ttl_ms=3000, acted_on=acted_on)
                for output, permille in wants.items()
            )
        )

    @property
    def board(self) -> BoardReport:
        """The newest report."""
        return self.reports[-1][1]


ON = {Output.HEATER: 1000, Output.PUMP: 1000, Output.MAIN_CONTACTOR: 1000}
OFF = dict.fromkeys(ON, 0)


class Room:
    """`serving` ends with what the driver's session ended with."""

    def __init__(self, clock: Clock, *, wired: ModbusMap = MAP, proxied: bool = False) -> None:
        kettle = load_kettle(config_folder() / "kettles" / "thimble.toml").kettle
        self.clock = clock
        self.world = World(body_of(kettle), seed=1, probe_offset_c=0.0)
        self.world.act(AddWater(8.0, 15.0))
        self.modules: SimulatedLine = simulated_modules(
            MAP, {probe.name: probe for probe in kettle.probes}, clock, self.world, ACCELERATED
        )
        self.proxy = LineProxy(clock, self.modules.port, seed=1, cut=whole_chunks) if proxied else None
        self.settings = ModbusSettings(
            port=self.modules.port if self.proxy is None else self.proxy.port,
            map=wired,
            lease_s=3.0,
            bursts=True,
            require_simulated=False,
        )
        self.inbox = Listener(clock)
        self.line = ModbusLine(self.settings, clock)
        self.inbox.line = self.line
        self.serving: asyncio.Task[None] | None = None
        self.losses: list[LinkError] = []
        self.at_work: list[asyncio.Task[None]] = []

    def unplug(self) -> None:
        """The port that the driver has open goes away."""
        self.at_work[-1].cancel()

    def use(self, **changed: object) -> None:
        """Another driver, with settings changed."""
        self.settings = replace(self.settings, **changed)  # type: ignore[arg-type]
        self.inbox.line = self.line = ModbusLine(self.settings, self.clock)

    async def join(self) -> None:
        """Starts the driver and waits for its session and a first report. Raises what it failed with."""
        self.serving = asyncio.create_task(self.line.run(self.inbox), name="driver")
        linked = asyncio.create_task(self.inbox.is_linked.wait(), name="linked")
        await asyncio.wait({self.serving, linked}, return_when=asyncio.FIRST_COMPLETED)
        linked.cancel()
        await asyncio.wait({linked})
        if self.serving.done():
            self.serving.result()
        await self.after(FIRST_REPORT_S)

    async def rejoin(self) -> None:
        """As a keeper does, until cancelled."""
        assert self.serving is not None
        while True:
            await asyncio.wait({self.serving})
            error = self.serving.exception()
            assert isinstance(error, LinkError)
            self.losses.append(error)
            await self.after(0.5)
            self.serving = asyncio.create_task(self.line.run(self.inbox), name="driver again")

    async def after(self, for_s: float) -> None:
        """Time passes."""
        await self.clock.sleep_until(self.clock.now_s() + for_s)

    async def lost(self, within_s: float) -> LinkError:
        """What the session ends with."""
        assert self.serving is not None
        await self.after(within_s)
        assert self.serving.done(), "the session goes on"
        error = self.serving.exception()
        assert isinstance(error, LinkError)
        return error

    async def refused(self) -> LinkError:
        """Why there is no session."""
        return await why_refused(self.line, self.inbox, self.clock)

    async def leave(self) -> None:
        """Ends the driver's session."""
        if self.serving is not None:
            self.serving.cancel()
            with suppress(asyncio.CancelledError, LinkError):
                await self.serving


def pins(room: Room) -> tuple[bool, bool, bool]:
    """Heater, pump and main contactor as they are."""
    room.modules.look()
    on = room.modules.pins.is_on
    return on(Pin.HEATER), on(Pin.PUMP), on(Pin.CONTACTOR)


async def why_refused(line: ModbusLine, inbox: Listener, clock: Clock) -> LinkError:
    """Why `line` has no session."""
    trying = asyncio.create_task(line.run(inbox), name="refused driver")
    limit = asyncio.ensure_future(clock.sleep_until(clock.now_s() + REFUSED_WITHIN_S))
    await asyncio.wait({trying, limit}, return_when=asyncio.FIRST_COMPLETED)
    for task in (trying, limit):
        task.cancel()
    await asyncio.wait({trying, limit})
    assert not trying.cancelled(), "it joined"
    error = trying.exception()
    assert isinstance(error, LinkError)
    return error


@asynccontextmanager
async def running(room: Room) -> AsyncIterator[Room]:
    """Within it, modules and proxy are at work."""
    async with asyncio.TaskGroup() as group:
        tasks = room.at_work
        tasks.append(group.create_task(room.modules.run(), name="modules"))
        if room.proxy is not None:
            tasks.append(group.create_task(room.proxy.run(), name="proxy"))
        try:
            yield room
        finally:
            await room.leave()
            for task in tasks:
                task.cancel()


def lived(scene: Callable[[Room], Awaitable[T]], **how: object) -> T:
    """What `scene` gives, in accelerated time."""

    async def main(clock: PacedClock) -> T:
        async with running(Room(clock, **how)) as room:  # type: ignore[arg-type]
            return await scene(room)

    return run_paced(main)
