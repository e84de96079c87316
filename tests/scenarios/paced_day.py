"""Whole days in accelerated time over real ptys: simulated boards and brewers, the real driver and the real record."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable, Mapping
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path

from kettlebridge.app import Assignment, Service, Setting, run_service
from kettlebridge.bridges import bridge_to_simulated
from kettlebridge.files.examples import config_folder
from kettlebridge.files.kettle_file import KettleFile, SerialLineBridge, load_kettle
from kettlebridge.files.local_time import zone_time
from kettlebridge.files.profile_file import load_profile
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import Command, CommandKind
from kettlebridge.model.demand import Demand, Output
from kettlebridge.model.ids import CommandId, KettleId
from kettlebridge.model.plan import AskKind, AskStep, CirculateStep, HeatStep, Plan, Profile, Water
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.ports import Bridge, Clock, Inbox
from kettlebridge.runtime.clock import PacedClock
from kettlebridge.simulated.board import simulated_board, wired_to
from kettlebridge.simulated.brewer import SimulatedBrewer, Ways
from kettlebridge.simulated.kettle import body_of
from kettlesim.line_proxy import Damage, LineProxy
from kettlesim.wire_serial.line import SerialBoard
from kettlesim.world import World
from tests.scenarios.whole_day import BriskWays

START_UTC_S = 1_800_000_000.0
RINSE = Profile(
    name="Rinse",
    water=Water(fill_l=8.0),
    steps=(
        AskStep(name="Fill", what=AskKind.FILL),
        HeatStep(name="Warm", to_c=35.0),
        CirculateStep(name="Rinse", at_c=35.0, for_min=8),
        AskStep(name="Empty", what=AskKind.EMPTY),
    ),
)
"""A short day: warm water goes round for eight minutes."""
Triple = tuple[int, bool, bool]
"""Heater per mille, pump, main contactor."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Vessel:
    """One kettle of the scenario. `damage` puts a bad cable before its board."""

    file: KettleFile
    profile: Profile
    damage: Damage | None = None


@dataclass(slots=True, kw_only=True)
class Seen:
    """What was wanted of a board and what it did.

    `applied` holds every demand that its outputs took, `heard` and `said` all its bytes. `held` counts pauses.
    `raised` is which output went on when.
    """

    offered: list[tuple[float, Triple]] = field(default_factory=list)
    applied: list[tuple[float, Triple]] = field(default_factory=list)
    raised: list[tuple[float, Output]] = field(default_factory=list)
    heard: bytearray = field(default_factory=bytearray)
    said: bytearray = field(default_factory=bytearray)
    proxy: LineProxy | None = None
    state: BatchState = BatchState.IDLE
    held: int = 0


class Overheard:
    """A bridge that notes what it is offered."""

    def __init__(self, bridge: Bridge, clock: Clock, seen: Seen) -> None:
        self._bridge = bridge
        self._clock = clock
        self._seen = seen

    async def run(self, inbox: Inbox) -> None:
        """As the bridge does."""
        await self._bridge.run(inbox)

    def offer(self, demands: tuple[Demand, ...]) -> None:
        """Notes the outputs, and hands them on."""
        wanted = {demand.output: demand.permille for demand in demands}
        if wanted:
            triple = (wanted[Output.HEATER], wanted[Output.PUMP] > 0, wanted[Output.MAIN_CONTACTOR] > 0)
            self._seen.offered.append((self._clock.now_s(), triple))
        self._bridge.offer(demands)

    def all_off(self) -> None:
        """As the bridge does."""
        self._bridge.all_off()


def example(kettle: str, profile: str, damage: Damage | None = None) -> Vessel:
    """An example kettle with an example day."""
    config = config_folder()
    return Vessel(
        file=load_kettle(config / "kettles" / f"{kettle}.toml"),
        profile=load_profile(config / "profiles" / f"{profile}.toml"),
        damage=damage,
    )


Wired = Callable[[Vessel, PacedClock, Seen, int], AbstractAsyncContextManager[tuple[KettleFile, World]]]
"""Puts a board for the vessel to work; gives the kettle file that leads there."""


@asynccontextmanager
async def on_serial_board(
    vessel: Vessel, clock: PacedClock, seen: Seen, seed: int
) -> AsyncIterator[tuple[KettleFile, World]]:
    """A board of the line protocol, behind a bad cable where the vessel has one."""
    world = World(body_of(vessel.file.kettle), seed=seed, probe_offset_c=0.0)
    board = simulated_board(vessel.file, clock, world, seed=seed)
    _note_applied(board, clock, seen)
    _note_bytes(board, seen)
    file = wired_to(board, vessel.file)
    async with asyncio.TaskGroup() as group:
        tasks = [group.create_task(board.run(), name="board")]
        if vessel.damage is not None:
            seen.proxy = LineProxy(clock, board.port, seed=seed)
            seen.proxy.to_board.damage = seen.proxy.to_host.damage = vessel.damage
            tasks.append(group.create_task(seen.proxy.run(), name="proxy"))
            assert isinstance(file.bridge, SerialLineBridge), "a bad cable lies on a serial line"
            file = replace(file, bridge=replace(file.bridge, port=seen.proxy.port))
        try:
            yield file, world
        finally:
            for task in tasks:
                task.cancel()


def _note_applied(board: SerialBoard, clock: PacedClock, seen: Seen) -> None:
    outputs = board.board.outputs
    apply = outputs.apply

    def noted(*, heater_permille: int, pump: bool, contactor: bool, at_ms: int) -> None:
        seen.applied.append((clock.now_s(), (heater_permille, pump, contactor)))
        apply(heater_permille=heater_permille, pump=pump, contactor=contactor, at_ms=at_ms)

    outputs.apply = noted  # type: ignore[method-assign]  # the board's word for what it was told, seen from inside


def _note_bytes(board: SerialBoard, seen: Seen) -> None:
    """What goes over the wire until the batch is complete; how a service then leaves is its own affair."""
    receive, poll = board.board.receive, board.board.poll

    def received(data: bytes, now_ms: int) -> list[bytes]:
        if seen.state is not BatchState.COMPLETE:
            seen.heard += data
        return receive(data, now_ms)

    def polled(now_ms: int) -> list[bytes]:
        frames = poll(now_ms)
        if seen.state is not BatchState.COMPLETE:
            seen.said += b"".join(frames)
        return frames

    board.board.receive = received  # type: ignore[method-assign]  # as above
    board.board.poll = polled  # type: ignore[method-assign]  # as above


class Day:
    """One service with its kettles; every batch is started, confirmed and, when held, carried on by its brewer."""

    def __init__(self, vessels: Mapping[str, Vessel], folder: Path, *, seed: int = 1) -> None:
        self._vessels = vessels
        self._folder = folder
        self._seed = seed
        self.seen = {name: Seen() for name in vessels}
        self.watch: Callable[[str, Snapshot], None] = lambda _name, _snapshot: None
        self.bridges: Callable[[KettleFile, Clock], Bridge] = bridge_to_simulated
        self.wired: Wired = on_serial_board
        self.ways: Ways = BriskWays()

    async def live(self, clock: PacedClock) -> None:
        """Until every batch is over."""
        await self._wire(clock, list(self._vessels), {})

    async def _wire(self, clock: PacedClock, waiting: list[str], wired: dict[str, tuple[KettleFile, World]]) -> None:
        if not waiting:
            await self._serve(clock, wired)
            return
        name, *others = waiting
        async with self.wired(self._vessels[name], clock, self.seen[name], self._seed) as place:
            await self._wire(clock, others, {**wired, name: place})

    async def _serve(self, clock: PacedClock, wired: Mapping[str, tuple[KettleFile, World]]) -> None:
        def overheard(file: KettleFile, on: Clock) -> Bridge:
            return Overheard(self.bridges(file, on), on, self.seen[file.kettle.name])

        assignments = [Assignment(file=file, profile=self._vessels[name].profile) for name, (file, _) in wired.items()]
        setting = Setting(clock=clock, folder=self._folder, time=zone_time("UTC"), bridges=overheard)

        async def body(service: Service) -> None:
            async with asyncio.TaskGroup() as group:
                for name, (_, world) in wired.items():
                    group.create_task(self._brew(service, name, world), name=f"{name}: brewer")

        await run_service(assignments, setting, body)

    async def _brew(self, service: Service, name: str, world: World) -> None:
        kettle = KettleId(name)
        vessel = self._vessels[name]
        plan = Plan(kettle=vessel.file.kettle, profile=vessel.profile)
        brewer = SimulatedBrewer(plan, world, seed=self._seed, ways=self.ways)
        told = 0
        async for snapshot in service.snapshots.stream(kettle):
            self.watch(name, snapshot)
            commands = [*brewer.look(snapshot)]
            kind = KEPT_GOING.get(snapshot.state)
            if kind is not None and snapshot.n % EVERY_TICKS == 0:
                told += 1
                command = Command(id=CommandId(f"day.{told}"), kind=kind, who="brewer", at_kettle=True)
                commands.append(command)
            if snapshot.state is BatchState.HELD and self.seen[name].state is not BatchState.HELD:
                self.seen[name].held += 1
            self.seen[name].state = snapshot.state
            if snapshot.state is BatchState.COMPLETE:
                return
            for command in commands:
                await service.commands.submit(kettle, command)


KEPT_GOING = {BatchState.IDLE: CommandKind.START, BatchState.HELD: CommandKind.CARRY_ON}
EVERY_TICKS = 10
