"""One keeper per kettle: it keeps the link and the ticks alive, and its kettle's crash to itself."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Generic, Never

from kettlebridge.model.alarm import AlarmRecord
from kettlebridge.model.batch_state import ENDED, BatchState
from kettlebridge.model.command import LOWERING, Command
from kettlebridge.model.errors import LinkError, LinkReason
from kettlebridge.model.ids import BatchId, KettleId
from kettlebridge.model.plan import NOTHING_CHOSEN
from kettlebridge.ports import BatchHeader, Bridge, Clock, Journal, Publisher, Records
from kettlebridge.runtime.fold import Core, S
from kettlebridge.runtime.inbox import KettleInbox
from kettlebridge.runtime.loop import TickLoop, Wires
from kettlebridge.runtime.recovery import IncompleteRecordError, Standing, recover
from kettlebridge.runtime.stuck_guard import Guard
from kettlebridge.runtime.unrecorded import Unrecorded

log = logging.getLogger(__name__)


class BackOff:
    """Seconds to wait before the next try: doubled each time up to `longest_s`.

    Starts small again after a success that lasted for `longest_s`; a shorter one is part of the trouble.
    """

    def __init__(self, *, first_s: float, longest_s: float) -> None:
        self._first_s = first_s
        self._longest_s = longest_s
        self._next_s = first_s

    def after(self, success_s: float) -> float:
        """What to wait after a failure that came `success_s` after things went well (0: they never did)."""
        if success_s >= self._longest_s:
            self._next_s = self._first_s
        wait_s = self._next_s
        self._next_s = min(self._longest_s, 2 * wait_s)
        return wait_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Rooms(Generic[S]):
    """What all keepers of a process share."""

    clock: Clock
    core: Core[S]
    journal: Journal
    records: Records
    publisher: Publisher
    guard: Guard


@dataclass(frozen=True, slots=True, kw_only=True)
class Charge:
    """What one keeper has in its care. `new_batch` opens a batch at a wall time, where no unfinished one is found.

    One of NOTHING_CHOSEN waits for a choice: it is watched, and not recorded.
    `grant` gives the circuit's heater limit, 0-1.
    """

    inbox: KettleInbox
    bridge: Bridge
    new_batch: Callable[[float], BatchHeader]
    grant: Callable[[], float]


class _BeginsAnewError(Exception):
    """The batch makes way for the next one."""


class Keeper(Generic[S]):
    """Runs one kettle until cancelled."""

    def __init__(self, kettle: KettleId, rooms: Rooms[S], charge: Charge) -> None:
        self.kettle = kettle
        self._rooms = rooms
        self._charge = charge
        self._standing: Standing[S] | None = None
        self._left_over: tuple[AlarmRecord, ...] | None = None
        self._closed: BatchId | None = None
        self._ended = asyncio.Event()
        self._ended_in = BatchState.IDLE
        self._anew = asyncio.Event()
        self._loop: TickLoop[S] | None = None

    async def run(self) -> Never:
        """Lives, and after a crash lives again from where the batch stands; the core then holds it."""
        back_off = BackOff(first_s=1.0, longest_s=60.0)
        clock = self._rooms.clock
        try:
            while True:
                begun_s = clock.now_s()
                self._anew.clear()
                try:
                    await self._live()
                except* _BeginsAnewError:
                    pass
                except* Exception as crash:  # whatever it is, it is this kettle's own
                    log.error("kettle %s: crashed, all off; it starts again", self.kettle, exc_info=crash)
                    self._rooms.guard.left(self.kettle)  # also where it never came to a tick
                _stop_if_cancelled()
                if self._anew.is_set():
                    await self._make_way()
                    continue
                await clock.sleep_until(clock.now_s() + back_off.after(clock.now_s() - begun_s))
                self._charge.inbox.refuse("restarted", _may_raise)
        finally:
            self._charge.inbox.refuse("closed", lambda _: True)

    @property
    def free(self) -> bool:
        """Whether the next batch may take this one's place: it was never begun, or it is over."""
        standing = self._standing if self._loop is None else self._loop.standing
        if standing is None:
            return False
        seen = self._rooms.core.snapshot(standing.header.plan, standing.header.batch, standing.state)
        begun = seen.step is not None and seen.step.begun
        return (seen.state in ENDED and standing.ended) or (seen.state is BatchState.IDLE and not begun)

    def begin_anew(self) -> bool:
        """Everything off, and the next batch opens as `new_batch` makes it, with this one's safety alarms.

        False where this one is not `free`, or its record cannot be closed: the next one's could not be opened either.
        """
        if not self.free or self._rooms.journal.health().failing_why is not None:
            return False
        self._anew.set()
        return True

    async def ended(self) -> BatchState:
        """Waits until the batch is over and its record closed."""
        await self._ended.wait()
        return self._ended_in

    async def first_try(self) -> LinkError | None:
        """Waits for the first attempt at the board: None when it answered, else why not."""
        await self._charge.inbox.tried.wait()
        lost = self._charge.inbox.lost
        return None if lost is None else LinkError(lost.reason, lost.detail)

    async def _live(self) -> None:
        """One life: the link beside the ticks, and the ticks first to end, so that "all off" still finds a wire."""
        if self._standing is None:
            self._standing = await self._find_or_begin()
        rooms, charge = self._rooms, self._charge
        wires = Wires(
            clock=rooms.clock,
            inbox=charge.inbox,
            bridge=charge.bridge,
            journal=self._journal_of(self._standing.header),
            publisher=rooms.publisher,
            guard=rooms.guard,
            grant=charge.grant,
        )
        loop = self._loop = TickLoop(rooms.core, wires, self._standing, self._end)
        async with asyncio.TaskGroup() as group:
            group.create_task(self._keep_link(), name=f"{self.kettle}: link")
            group.create_task(self._makes_way(), name=f"{self.kettle}: next batch")
            rooms.guard.began(self.kettle)
            try:
                await loop.run()
            finally:
                charge.bridge.all_off()
                rooms.guard.left(self.kettle)
                self._standing, self._loop = loop.standing, None

    async def _makes_way(self) -> Never:
        """Ends this life once the next batch is wanted. Raises _BeginsAnewError."""
        await self._anew.wait()
        raise _BeginsAnewError

    async def _make_way(self) -> None:
        """Closes the record of the old batch. One that was begun at the last moment stays: it comes back paused."""
        standing = self._standing
        if standing is None or not self.free:
            return
        header = standing.header
        seen = self._rooms.core.snapshot(header.plan, header.batch, standing.state)
        self._left_over = tuple(replace(record, since_s=0.0) for record in seen.alarms if record.safety)
        self._closed = header.batch
        if not standing.ended:
            await self._journal_of(header).end(header.batch, BatchState.STOPPED)
        self._standing = None
        self._ended.clear()

    async def _find_or_begin(self) -> Standing[S]:
        """The unfinished batch, else a new one. One whose record lost ticks is closed: it cannot come back.

        Nor can one that made way, whose end may still be on its way to the disk.
        """
        rooms = self._rooms
        found = None
        try:
            found = await recover(rooms.core, rooms.records, self.kettle)
        except IncompleteRecordError as lost:
            log.error("kettle %s: %s: closed as aborted, a new batch begins", self.kettle, lost)
            await rooms.journal.end(lost.batch, BatchState.ABORTED)
        if found is not None and found.header.batch != self._closed:
            log.warning("kettle %s: batch %s was not finished", self.kettle, found.header.batch)
            return found
        header = self._charge.new_batch(rooms.clock.at_utc_s())
        if self._left_over is not None:
            header = replace(header, plan=replace(header.plan, left_over=self._left_over))
        await self._journal_of(header).begin(header)
        if self._left_over is not None:
            self._charge.inbox.refuse("seen_in_another_batch", _may_raise)  # told in view of the one before
        return Standing(header=header, state=rooms.core.initial(header.plan))

    def _journal_of(self, header: BatchHeader) -> Journal:
        return Unrecorded(self._rooms.journal) if header.plan.profile == NOTHING_CHOSEN else self._rooms.journal

    async def _keep_link(self) -> Never:
        """Sessions with the board, one after the other."""
        clock, inbox, bridge = self._rooms.clock, self._charge.inbox, self._charge.bridge
        back_off = BackOff(first_s=0.5, longest_s=10.0)
        while True:
            reason, detail = LinkReason.LOST, "the session ended"
            try:
                await bridge.run(inbox)
            except LinkError as error:
                reason, detail = error.reason, error.detail
            since_s = inbox.linked_since_s
            inbox.link_lost(reason, detail)
            lasted_s = 0.0 if since_s is None else clock.now_s() - since_s
            await clock.sleep_until(clock.now_s() + back_off.after(lasted_s))

    def _end(self, state: BatchState) -> None:
        """The record is closed."""
        self._ended_in = state
        self._ended.set()


def _stop_if_cancelled() -> None:
    """A task group that is cancelled in the turn in which a child raises may tell of the child alone."""
    task = asyncio.current_task()
    if task is not None and task.cancelling():
        raise asyncio.CancelledError


def _may_raise(command: Command) -> bool:
    """Whether `command` could bring heat back: what was asked before a crash is not done after it."""
    return command.kind not in LOWERING
