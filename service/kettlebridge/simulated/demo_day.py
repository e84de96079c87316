"""A day on the simulator: kettle, board and service in one process, on one accelerated clock."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Coroutine
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Never

from kettlebridge.app import Assignment, Service, Setting, run_service
from kettlebridge.bridges import bridge_to_simulated
from kettlebridge.documents.refusals import refused
from kettlebridge.files.kettle_file import KettleFile
from kettlebridge.files.library import recipe_folders
from kettlebridge.files.local_time import ZoneTime
from kettlebridge.model.batch_state import ENDED, BatchState
from kettlebridge.model.command import Command, CommandKind
from kettlebridge.model.errors import OperatorError
from kettlebridge.model.event import Event
from kettlebridge.model.ids import BatchId, CommandId, KettleId
from kettlebridge.model.plan import Plan, Profile
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.ports import Clock, Commands, Publisher
from kettlebridge.runtime.first_of import endless, first_of
from kettlebridge.simulated.brewer import USUAL_WAYS, SimulatedBrewer, Ways
from kettlebridge.simulated.hands import SimulatedHands
from kettlebridge.simulated.kettle import body_of
from kettlebridge.simulated.mending_brewer import MendingBrewer
from kettlebridge.simulated.practice_faults import Drawn, Happened, PracticeFaults, Tell
from kettlebridge.simulated.wires import Wire, rigged, simulated
from kettlebridge.web.server import Address
from kettlesim.world import World

LEFT_ALONE_S = 2 * 3600.0
"""Batch time after which a paused day with nobody at the keyboard is given up."""

COMMANDS = 16
"""Confirmations of the simulated brewer that may wait."""

BY_HAND = "It is done once you say that you have seen the alarm; then carry on."
"""How a person's hands mend what went wrong in a simulated kettle."""

Look = Callable[[Snapshot], tuple[Command, ...]]
Beside = Callable[[Service, KettleId], Coroutine[object, object, None]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Demo:
    """What the day is made of. `beside` runs along with it and ends it by returning; None: nobody is there.

    `page` is where it can be watched, with `note` on it; `greet` is called once it can. `faults` are those to come, of
    a kettle that `has_rig`; `tell` is told of each in plain words.
    """

    file: KettleFile
    profile: Profile
    seed: int
    hands_off: bool
    until_complete: bool
    folder: Path
    time: ZoneTime
    listeners: tuple[Publisher, ...]
    beside: Beside | None
    ways: Ways = USUAL_WAYS
    faults: tuple[Drawn, ...] = ()
    tell: Tell = lambda _snapshot, _words: None
    page: Address | None = None
    note: str = ""
    greet: Callable[[Service], None] = lambda _service: None


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """`wall_s` is real time from the start command to the end; `happened` are the faults that came."""

    batch: BatchId
    state: BatchState
    wall_s: float
    happened: tuple[Happened, ...] = ()


class Course:
    """A publisher that notices when the day is over, or when nothing more will come of it."""

    def __init__(self, hands_off: bool) -> None:
        self.over = asyncio.Event()
        self._hands_off = hands_off
        self._paused_since_s: float | None = None

    def publish(self, snapshot: Snapshot, events: tuple[Event, ...]) -> None:
        """Looks at one tick."""
        if snapshot.state is not BatchState.HELD:
            self._paused_since_s = None
        elif self._paused_since_s is None:
            self._paused_since_s = snapshot.now_s
        paused_s = 0.0 if self._paused_since_s is None else snapshot.now_s - self._paused_since_s
        given_up = self._hands_off and (snapshot.state is BatchState.ABORTED or paused_s > LEFT_ALONE_S)
        if snapshot.state in ENDED or given_up:
            self.over.set()


class HandsOff:
    """A publisher that shows each tick to a simulated brewer, and keeps what that one confirms until it is taken.

    What finds the queue full is dropped: the brewer confirms again.
    """

    def __init__(self, *looks: Look) -> None:
        self.commands: asyncio.Queue[Command] = asyncio.Queue(COMMANDS)
        self._looks = looks

    def publish(self, snapshot: Snapshot, events: tuple[Event, ...]) -> None:
        """Lets the brewer look."""
        for command in (each for look in self._looks for each in look(snapshot)):
            with suppress(asyncio.QueueFull):
                self.commands.put_nowait(command)

    async def submit(self, commands: Commands, kettle: KettleId) -> Never:
        """Hands over one command after the other."""
        while True:
            await commands.submit(kettle, await self.commands.get())


async def live(demo: Demo, clock: Clock) -> Outcome:
    """The day. Raises LinkError, JournalError or OperatorError when it cannot begin."""
    world = World(body_of(demo.file.kettle), seed=demo.seed, probe_offset_c=0.0)
    wire, faults = _wired(demo, clock, world)
    plan = Plan(kettle=demo.file.kettle, profile=demo.profile)
    course = Course(demo.hands_off)
    brewer = _brewer(demo, plan, world, faults) if demo.hands_off else None
    hands = SimulatedHands(plan, world, demo.ways) if brewer is None else brewer
    setting = Setting(
        clock=clock,
        folder=demo.folder,
        time=demo.time,
        bridges=bridge_to_simulated,
        listeners=(*(() if faults is None else (faults,)), hands, course, *demo.listeners),
        page=demo.page,
        note=lambda: demo.note if faults is None else f"{demo.note} {faults.words()}".rstrip(),
        hurried=True,
        recipes=recipe_folders((), demo.folder),
    )
    assignment = Assignment(file=wire.file, profile=demo.profile)
    outcome = await first_of(
        run_service([assignment], setting, lambda service: _lived(demo, service, course, brewer)), endless(wire.run())
    )
    return outcome if faults is None else replace(outcome, happened=tuple(faults.happened))


def _wired(demo: Demo, clock: Clock, world: World) -> tuple[Wire, PracticeFaults | None]:
    """The kettle's board, and what lays its faults on it where some are to come."""
    if not demo.faults:
        return simulated(demo.file, clock, world, seed=demo.seed), None
    wire, rig = rigged(demo.file, clock, world, seed=demo.seed)
    return wire, PracticeFaults(demo.faults, rig, demo.tell, "" if demo.hands_off else BY_HAND)


def _brewer(demo: Demo, plan: Plan, world: World, faults: PracticeFaults | None) -> HandsOff:
    look = SimulatedBrewer(plan, world, seed=demo.seed, ways=demo.ways).look
    return HandsOff(look) if faults is None else HandsOff(look, MendingBrewer(faults, seed=demo.seed).look)


async def _lived(demo: Demo, service: Service, course: Course, brewer: HandsOff | None) -> Outcome:
    """From the start command until the day is over, somebody wants to leave, or a signal comes."""
    kettle = demo.file.kettle.name
    keeper, commands = service.keepers[kettle], service.commands
    if kettle in service.recovered:
        raise OperatorError(
            f"{demo.folder} holds the unfinished batch {service.recovered[kettle]}, and a simulated kettle forgets "
            "what was in it: give another --state"
        )
    link_error = await keeper.first_try()
    if link_error is not None:
        raise link_error
    loop = asyncio.get_running_loop()
    begun_s = loop.time()
    demo.greet(service)
    await _start(service, kettle)
    await first_of(
        course.over.wait() if demo.until_complete else endless(),
        service.stop.wait(),
        endless() if demo.beside is None else demo.beside(service, kettle),
        endless() if brewer is None else brewer.submit(commands, kettle),
    )
    wall_s = loop.time() - begun_s
    last = service.snapshots.latest(kettle)
    if last is None:
        raise AssertionError("a batch that was started has had its tick")
    if last.state not in ENDED:
        await commands.submit(kettle, _told(CommandKind.STOP))
    await keeper.ended()
    return Outcome(batch=last.batch, state=last.state, wall_s=wall_s)


async def _start(service: Service, kettle: KettleId) -> None:
    """Starts the day as soon as there is a temperature to go by. Raises OperatorError."""
    async for seen in service.snapshots.stream(kettle):
        if seen.temperature_c is not None:
            break
    verdict = await service.commands.submit(kettle, _told(CommandKind.START))
    if verdict.refused is not None:
        raise OperatorError(f"the day does not start: {refused(verdict.refused).why}")


def _told(kind: CommandKind) -> Command:
    return Command(id=CommandId(f"demo.{kind.value}"), kind=kind, who="demo", at_kettle=True)
