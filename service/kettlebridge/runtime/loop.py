"""The tick loop of one kettle: a beat of one second, and a tick at once for a command or a safety input.

The law of a tick: collect, decide, offer the demands to the bridge, and only then everything that may take longer or
fail: record, publish, answer. When the decision itself raises, the old state stands, the board is told to drop
everything, and the next tick gets a HOLD; when that raises too, the loop gives up and its keeper starts anew.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, Never

from kettlebridge.model.batch_state import ENDED, BatchState
from kettlebridge.model.command import LOWERING, Command, CommandKey, CommandKind
from kettlebridge.model.errors import KettlebridgeError
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.ids import CommandId
from kettlebridge.model.inputs import Inputs
from kettlebridge.ports import Bridge, Clock, Journal, Publisher, TickEntry, Verdict
from kettlebridge.runtime.fold import Core, S, Ticked
from kettlebridge.runtime.foretelling import Foreteller
from kettlebridge.runtime.inbox import Heard, KettleInbox, Waiting
from kettlebridge.runtime.recovery import Standing
from kettlebridge.runtime.stuck_guard import Guard

log = logging.getLogger(__name__)

PERIOD_S = 1.0
"""Between two beats."""

MIN_GAP_S = 0.02
"""Between two ticks: no time step of the core is zero, and no storm of inputs crowds out the other kettles."""

VERDICTS = frozenset({EventCode.COMMAND_TAKEN, EventCode.COMMAND_REFUSED})

TICK_FAILED = "tick failed"
"""Who holds a batch whose tick raised."""


class TickFailedError(KettlebridgeError):
    """Two ticks in a row raised."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wires:
    """What a kettle's loop is wired to. `grant` gives the circuit's heater limit, 0-1."""

    clock: Clock
    inbox: KettleInbox
    bridge: Bridge
    journal: Journal
    publisher: Publisher
    guard: Guard
    grant: Callable[[], float]


class TickLoop(Generic[S]):
    """Ticks one batch until cancelled, past its end too: a finished batch's kettle is still watched.

    `on_end` is called once the batch's record is closed.
    """

    def __init__(
        self, core: Core[S], wires: Wires, standing: Standing[S], on_end: Callable[[BatchState], None]
    ) -> None:
        self.standing = standing
        self._core = core
        self._wires = wires
        self._on_end = on_end
        self._header = standing.header
        self._ending = standing.ended
        self._last_tick_s = -MIN_GAP_S
        self._batch_zero_s = 0.0
        self._foreteller = Foreteller(core, standing.header.plan)
        self._failures = 0
        self._in_hand: tuple[Waiting, ...] = ()
        self._resumed = standing.resumed(wires.clock.at_utc_s())

    async def run(self) -> Never:
        """Ticks. Raises TickFailedError, in a group, when two ticks in a row raised."""
        clock, wake = self._wires.clock, self._wires.inbox.wake
        standing_s = 0.0 if self._resumed is None else self.standing.state.now_s + PERIOD_S
        self._batch_zero_s = clock.now_s() - standing_s
        try:
            async with asyncio.TaskGroup() as group:
                group.create_task(self._beat(), name=f"{self._header.kettle}: beat")
                while True:
                    await wake.wait()
                    await clock.sleep_until(self._last_tick_s + MIN_GAP_S)
                    wake.clear()
                    self._tick(group)
        finally:
            for one in self._in_hand:
                one.answer(Verdict(refused="interrupted", n=self.standing.state.n, recorded=False))

    async def _beat(self) -> None:
        """Wakes the tick every period, counted from the first; beats missed are left out."""
        clock, wake = self._wires.clock, self._wires.inbox.wake
        begun_s = clock.now_s()
        k = 0
        while True:
            wake.set()
            k = max(k + 1, int((clock.now_s() - begun_s) // PERIOD_S) + 1)
            await clock.sleep_until(begun_s + k * PERIOD_S)

    def _tick(self, group: asyncio.TaskGroup) -> None:
        """One tick, from what was heard to who is told."""
        now_s = self._last_tick_s = self._wires.clock.now_s()
        heard = self._wires.inbox.take(now_s)
        waiting = self._in_hand = self._in_hand + heard.waiting
        inputs = self._inputs(now_s, heard, tuple(one.command for one in waiting))
        n = self.standing.state.n
        try:
            ticked = self._core.tick(self._header.plan, self.standing.state, inputs)
        except Exception as error:  # noqa: BLE001 - whatever a decision fails with, the outputs go off
            self._wires.bridge.all_off()
            self._fail(n, waiting, error)
            return
        self._wires.bridge.offer(ticked.demands)
        self._wires.inbox.expect(ticked.demands)
        self._failures, self._resumed = 0, None
        self.standing = Standing(header=self._header, state=ticked.state, ended=self.standing.ended)
        self._record(n, inputs, ticked)
        snapshot = self._core.snapshot(self._header.plan, self._header.batch, ticked.state)
        self._wires.publisher.publish(self._foreteller.told(snapshot, ticked.state), ticked.events)
        self._answer(group, n, waiting, ticked.events)
        self._in_hand = ()
        if snapshot.state in ENDED and not self._ending:
            self._ending = True
            group.create_task(self._end(snapshot.state), name=f"{self._header.kettle}: end of record")
        self._wires.guard.finished(self._header.kettle)

    def _inputs(self, now_s: float, heard: Heard, commands: tuple[Command, ...]) -> Inputs:
        """What the tick may know."""
        return Inputs(
            now_s=now_s - self._batch_zero_s,
            at_utc_s=self._wires.clock.at_utc_s(),
            readings=heard.readings,
            health=heard.health,
            commands=commands,
            heater_limit_fraction=self._wires.grant(),
            resumed=self._resumed,
            journal_failing=self._wires.journal.health().failing_why is not None,
            clock_synchronised=bool(commands) and self._wires.clock.synchronised(),
        )

    def _fail(self, n: int, waiting: tuple[Waiting, ...], error: Exception) -> None:
        """A tick raised. Its lowering commands go to the next one behind a HOLD; the others are answered."""
        self._failures += 1
        again = self._failures > 1
        carried = tuple(one for one in waiting if one.command.kind in LOWERING and not again)
        for one in waiting:
            if one not in carried:
                one.answer(Verdict(refused="tick_failed", n=n, recorded=False))
        if again:
            raise TickFailedError(f"tick {n} of batch {self._header.batch} raised twice") from error
        log.error("kettle %s: tick %d raised: all off, then Held", self._header.kettle, n, exc_info=error)
        hold = Command(id=CommandId(f"{TICK_FAILED} {n}"), kind=CommandKind.HOLD, who=TICK_FAILED)
        self._in_hand = (Waiting(command=hold, verdict=asyncio.get_running_loop().create_future()), *carried)

    def _record(self, n: int, inputs: Inputs, ticked: Ticked[S]) -> None:
        """Queues the tick for the journal, while the batch's record is open."""
        if not self._ending:
            urgent = bool(inputs.commands or ticked.events)
            self._wires.journal.record(
                TickEntry(batch=self._header.batch, n=n, inputs=inputs, events=ticked.events, urgent=urgent)
            )

    def _answer(
        self, group: asyncio.TaskGroup, n: int, waiting: tuple[Waiting, ...], events: tuple[Event, ...]
    ) -> None:
        """Verdicts: at once for what lowers, for the rest once the record of it is on disk."""
        outcomes = outcomes_of(events)
        slow: list[tuple[Waiting, str | None]] = []
        for one in waiting:
            refused = outcomes.get(one.command.key, "unanswered")
            if one.command.kind in LOWERING or self._ending:
                one.answer(Verdict(refused=refused, n=n, recorded=False))
            else:
                slow.append((one, refused))
        if slow:
            task = group.create_task(self._settled(n), name=f"{self._header.kettle}: verdicts of tick {n}")
            task.add_done_callback(lambda done: _answer_all(slow, n, done))

    async def _settled(self, n: int) -> bool:
        """Whether tick `n` came to be on disk."""
        return await self._wires.journal.settled(self._header.batch, n)

    async def _end(self, state: BatchState) -> None:
        """Closes the record, behind its last tick."""
        await self._wires.journal.end(self._header.batch, state)
        self.standing = Standing(header=self._header, state=self.standing.state, ended=True)
        self._on_end(state)


def _answer_all(slow: list[tuple[Waiting, str | None]], n: int, settled: asyncio.Task[bool]) -> None:
    """The verdicts that waited for the disk, also when that wait was ended or failed."""
    recorded = not settled.cancelled() and settled.exception() is None and settled.result()
    for one, refused in slow:
        one.answer(Verdict(refused=refused, n=n, recorded=recorded))


def outcomes_of(events: tuple[Event, ...]) -> dict[CommandKey, str | None]:
    """By command: the reason why it was refused, None where it was taken."""
    return {
        (CommandKind(str(event.get("kind"))), CommandId(str(event.get("command")))): (
            str(event.get("reason")) if event.code is EventCode.COMMAND_REFUSED else None
        )
        for event in events
        if event.code in VERDICTS
    }
