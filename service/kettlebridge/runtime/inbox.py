"""What one kettle's next tick will be given: its bridge puts in, people put in, the loop takes out."""

from __future__ import annotations

import asyncio
import logging
import math
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, replace

from kettlebridge.model.command import LOWERING, Command, CommandKey
from kettlebridge.model.demand import Demand, Output
from kettlebridge.model.errors import LinkReason
from kettlebridge.model.ids import KettleId, ProbeName
from kettlebridge.model.reading import (
    LOWERING_PRESSES,
    PRESSES,
    UNLINKED,
    BoardHealth,
    BoardInput,
    BoardStanding,
    BoardState,
    Reading,
    ReadingFault,
)
from kettlebridge.model.sample import BoardReport, Sample
from kettlebridge.ports import Clock, Verdict

log = logging.getLogger(__name__)

SAMPLES_A_PROBE = 32
"""Kept between two ticks; the oldest go first, and the loss is logged. A board sends two a second."""

PROBES = 16
"""Probes heard of; samples of further ones are dropped. A board has at most 8."""

COMMANDS = 64
"""Waiting at once; further ones are refused, lowering ones join one of their kind."""

WAKING_INPUTS = BoardInput.FOAM | BoardInput.LEVEL | BoardInput.CUTOUT | BoardInput.STOP | BoardInput.CONFIRM
"""Inputs whose change the tick sees at once; flow and load sense flutter and are seen once a second."""

Pins = tuple[bool, bool, bool]
"""Heater, pump and main contactor: on or not."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """A command on its way to a tick, and whoever waits for the verdict."""

    command: Command
    verdict: asyncio.Future[Verdict]

    def answer(self, verdict: Verdict) -> None:
        """Gives the verdict, unless there is one or nobody waits any more."""
        if not self.verdict.done():
            self.verdict.set_result(verdict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """All that came since the last tick, aged. Readings are oldest first."""

    readings: tuple[Reading, ...]
    health: BoardHealth
    waiting: tuple[Waiting, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkLoss:
    """Why there is no session."""

    reason: LinkReason
    detail: str


class KettleInbox:
    """Never waits; everything in it is bounded. Of the reports between two ticks the newest counts, and every press.

    `wake` is set when a tick should come before its time, `tried` once the bridge had its first success or failure.
    """

    def __init__(self, kettle: KettleId, clock: Clock) -> None:
        self.wake = asyncio.Event()
        self.tried = asyncio.Event()
        self.lost: LinkLoss | None = None
        self.linked_since_s: float | None = None
        self._kettle = kettle
        self._clock = clock
        self._samples: dict[ProbeName, deque[Sample]] = {}
        self._dropped = 0
        self._report: BoardReport | None = None
        self._pressed = BoardInput.NONE
        self._demanded: Pins = (False, False, False)
        self._waiting: dict[CommandKey, Waiting] = {}

    def linked(self) -> None:
        """A session with the board is alive."""
        self.linked_since_s = self._clock.now_s()
        self.lost = None
        self._report = None if self._report is not None and self._report.ended else self._report
        self.tried.set()
        log.info("kettle %s: the board is there", self._kettle)

    def link_lost(self, reason: LinkReason, detail: str) -> None:
        """No session. Of what it reported presses that lower are kept, and until the next session a board's last word.

        Wakes the tick and is logged when that is news.
        """
        loss = LinkLoss(reason=reason, detail=detail)
        known = self.lost is not None and self.lost.reason is reason
        self.linked_since_s = None
        self.lost = loss
        self._report = self._report if self._report is not None and self._report.ended else None
        self._pressed &= LOWERING_PRESSES
        self.tried.set()
        if not known:
            log.warning("kettle %s: no board: %s: %s", self._kettle, reason.value, detail)
            self.wake.set()

    def hear(self, samples: tuple[Sample, ...], report: BoardReport | None) -> None:
        """One frame's worth.

        A session's first report, a change of a waking input, or of a pin that nobody asked for, wakes the tick.
        """
        for sample in samples:
            self._keep(sample)
        if report is not None:
            if self._is_news(report.board):
                self.wake.set()
            self._report = report
            self._pressed |= report.board.inputs & PRESSES

    def expect(self, demands: tuple[Demand, ...]) -> None:
        """What the board was just asked for: a pin that follows is no news. Empty changes nothing."""
        if demands:
            on = {demand.output: demand.permille > 0 for demand in demands}
            self._demanded = (
                on.get(Output.HEATER, False),
                on.get(Output.PUMP, False),
                on.get(Output.MAIN_CONTACTOR, False),
            )

    def submit(self, command: Command) -> asyncio.Future[Verdict]:
        """Queues `command`, wakes the tick and gives the verdict to wait for. The same one twice waits as one."""
        known = self._waiting.get(command.key) or self._stand_in(command)
        if known is not None:
            return known.verdict
        waiting = Waiting(command=command, verdict=asyncio.get_running_loop().create_future())
        if len(self._waiting) >= COMMANDS and command.kind not in LOWERING:
            waiting.answer(Verdict(refused="queue_full", n=0, recorded=False))
        else:
            self._waiting[command.key] = waiting
            self.wake.set()
        return waiting.verdict

    def refuse(self, reason: str, which: Callable[[Command], bool]) -> None:
        """Answers those waiting commands that `which` picks with `reason`, and forgets them."""
        for waiting in [waiting for waiting in self._waiting.values() if which(waiting.command)]:
            del self._waiting[waiting.command.key]
            waiting.answer(Verdict(refused=reason, n=0, recorded=False))

    def take(self, now_s: float) -> Heard:
        """Everything that came since the last take, with ages at Clock time `now_s`."""
        samples = sorted((s for kept in self._samples.values() for s in kept), key=lambda sample: sample.taken_s)
        heard = Heard(
            readings=tuple(_reading(sample, now_s) for sample in samples),
            health=self._with_presses(self._health(now_s)),
            waiting=tuple(self._waiting.values()),
        )
        if self._dropped:
            log.warning("kettle %s: %d readings dropped between two ticks", self._kettle, self._dropped)
        self._dropped = 0
        self._samples.clear()
        self._waiting.clear()
        return heard

    def _keep(self, sample: Sample) -> None:
        """Keeps `sample` within the bounds."""
        kept = self._samples.get(sample.probe)
        if kept is None:
            if len(self._samples) >= PROBES:
                self._dropped += 1
                return
            kept = self._samples[sample.probe] = deque(maxlen=SAMPLES_A_PROBE)
        self._dropped += len(kept) == SAMPLES_A_PROBE
        kept.append(sample)

    def _is_news(self, board: BoardState) -> bool:
        """Whether the tick should see this report before its time."""
        if self._report is None or (board.inputs ^ self._report.board.inputs) & WAKING_INPUTS:
            return True
        pins = _pins(board)
        return pins not in (self._demanded, _pins(self._report.board))

    def _with_presses(self, health: BoardHealth) -> BoardHealth:
        """`health` with what was pressed since the last take; what it has no board to tell of waits for one."""
        board = health.board
        if board is None:
            return health
        pressed, self._pressed = self._pressed, BoardInput.NONE
        if pressed in board.inputs:
            return health
        return replace(health, board=replace(board, inputs=board.inputs | pressed))

    def _stand_in(self, command: Command) -> Waiting | None:
        """When the queue is full: a waiting command of the same lowering kind, which does the same."""
        if len(self._waiting) < COMMANDS or command.kind not in LOWERING:
            return None
        return next((other for other in self._waiting.values() if other.command.kind is command.kind), None)

    def _health(self, now_s: float) -> BoardHealth:
        """How the wire stands; with nothing reported yet the age counts from the session's begin."""
        report = self._report
        if self.linked_since_s is None:
            gone = UNLINKED if self.lost is None else _without(self.lost)
            return gone if report is None else replace(gone, age_s=_age_s(report.taken_s, now_s), board=report.board)
        if report is None:
            return BoardHealth(linked=True, age_s=_age_s(self.linked_since_s, now_s))
        return BoardHealth(linked=True, age_s=_age_s(report.taken_s, now_s), board=report.board, boards=report.boards)


def _without(lost: LinkLoss) -> BoardHealth:
    """No session, and why."""
    standing = BoardStanding(name="", linked=False, trouble=lost.reason, detail=lost.detail)
    return BoardHealth(linked=False, age_s=0.0, boards=(standing,))


def _pins(board: BoardState) -> Pins:
    """Which outputs are on."""
    return board.heater_permille > 0, board.pump_on, board.main_contactor_closed


def _age_s(taken_s: float, now_s: float) -> float:
    """An age; what claims to come from the future is new."""
    return max(0.0, now_s - taken_s)


def _reading(sample: Sample, now_s: float) -> Reading:
    """`sample` aged. NaN and infinities end here."""
    age_s = _age_s(sample.taken_s, now_s)
    if sample.value_c is not None and not math.isfinite(sample.value_c):
        return Reading(probe=sample.probe, fault=ReadingFault.NOT_A_NUMBER, age_s=age_s)
    return Reading(probe=sample.probe, value_c=sample.value_c, fault=sample.fault, age_s=age_s)
