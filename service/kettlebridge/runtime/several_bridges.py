"""Several boards of one kettle as one Bridge: probes from one, relays from another, a second probe from a third.

The law: a board with relays or inputs is one the kettle cannot do without; its loss ends the session of all, and the
leases end whatever was on. A board with nothing but probes may come and go: its probes say that they do not answer,
and what that means is the tick's affair. A demand reaches each board with that board's own token of the report it
follows from. The whole's own numbers begin anew with a board's own time, so that a board's start shows through.
"""

from __future__ import annotations

import asyncio
import logging
from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from kettlebridge.core.by_board import began_anew
from kettlebridge.model.demand import Demand, Output
from kettlebridge.model.errors import LinkError, LinkReason
from kettlebridge.model.ids import ProbeName
from kettlebridge.model.reading import BoardInput, BoardStanding, BoardState, ReadingFault
from kettlebridge.model.sample import BoardReport, Sample
from kettlebridge.ports import Bridge, Clock, Inbox

log = logging.getLogger(__name__)

REMEMBERED_REPORTS = 64
RETRY_S = 2.0
"""Between two attempts at a board with nothing but probes."""

MISSING_EVERY_S = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One board. The buzzer belongs to whichever has the heater."""

    name: str
    bridge: Bridge
    probes: tuple[ProbeName, ...]
    outputs: tuple[Output, ...]
    inputs: BoardInput

    @property
    def vital(self) -> bool:
        """Whether the kettle cannot do without it."""
        return bool(self.outputs or self.inputs)


class _PartInbox:
    """What one part hears, on its way to the kettle's inbox."""

    def __init__(self, whole: SeveralBridges, part: Part, inbox: Inbox) -> None:
        self.linked_once = asyncio.Event()
        self.is_linked = False
        self.lost: LinkError | None = None
        self._whole = whole
        self._part = part
        self._inbox = inbox

    def linked(self) -> None:
        """The board is there."""
        self.is_linked = True
        self.lost = None
        self.linked_once.set()
        log.info("board %s is there", self._part.name)

    def link_lost(self, reason: LinkReason, detail: str) -> None:
        """Told by whoever runs the part."""
        if self.is_linked:
            log.warning("board %s: %s: %s", self._part.name, reason.value, detail)
        self.is_linked = False
        self.lost = LinkError(reason, detail)

    def standing(self) -> BoardStanding:
        """How the board stands."""
        if self.lost is None:
            return BoardStanding(name=self._part.name, linked=self.is_linked)
        return BoardStanding(name=self._part.name, linked=False, trouble=self.lost.reason, detail=self.lost.detail)

    def hear(self, samples: tuple[Sample, ...], report: BoardReport | None) -> None:
        """Temperatures go on at once; reports once every vital board has one."""
        whole_report = self._whole.reported(self._part, report) if report is not None else None
        if samples or whole_report is not None:
            self._inbox.hear(samples, whole_report)


class SeveralBridges:
    """`parts` share no probe, output or input. `run` may be called again after it has ended."""

    def __init__(self, parts: Sequence[Part], clock: Clock) -> None:
        self._parts = tuple(parts)
        self._clock = clock
        self._reports: dict[str, BoardReport] = {}
        self._tokens: deque[tuple[int, Mapping[str, int]]] = deque(maxlen=REMEMBERED_REPORTS)
        self._number = 0
        self._own_tokens: dict[str, int] = {}
        self._inboxes: dict[str, _PartInbox] = {}

    async def run(self, inbox: Inbox) -> None:
        """Until cancelled. Raises LinkError once a vital board cannot be had or is lost."""
        self._reports.clear()
        self._tokens.clear()
        self._inboxes = inboxes = {part.name: _PartInbox(self, part, inbox) for part in self._parts}
        try:
            async with asyncio.TaskGroup() as group:
                for part in self._parts:
                    serve = self._serve if part.vital else self._keep_trying
                    group.create_task(serve(part, inboxes[part.name], inbox), name=f"board {part.name}")
                for part in self._parts:
                    if part.vital:
                        await inboxes[part.name].linked_once.wait()
                inbox.linked()
        except* LinkError as lost:
            raise _first(lost) from None

    def offer(self, demands: tuple[Demand, ...]) -> None:
        """To each board its own outputs, with its own token. Empty, or after no known report: nothing is sent."""
        if not demands:
            return
        tokens = dict(self._tokens).get(demands[0].acted_on)
        if tokens is None:
            return
        for part in self._parts:
            token = tokens.get(part.name)
            own = tuple(
                Demand(output=demand.output, permille=demand.permille, ttl_ms=demand.ttl_ms, acted_on=token)
                for demand in demands
                if token is not None and _belongs(demand.output, part)
            )
            part.bridge.offer(own)

    def all_off(self) -> None:
        """On every board."""
        for part in self._parts:
            part.bridge.all_off()

    def reported(self, part: Part, report: BoardReport) -> BoardReport | None:
        """The account of all boards, as old as the oldest of them; None while one is missing."""
        if not part.vital:
            return None
        own_token = report.board.acted_on
        if began_anew(self._own_tokens.get(part.name, own_token), own_token):
            self._number = 0
            self._tokens.clear()
        self._own_tokens[part.name] = own_token
        self._reports[part.name] = report
        vital = [one for one in self._parts if one.vital]
        if any(one.name not in self._reports for one in vital):
            return None
        self._number += 1
        self._tokens.append((self._number, {one.name: self._reports[one.name].board.acted_on for one in vital}))
        return BoardReport(
            board=self._together(vital),
            taken_s=min(self._reports[one.name].taken_s for one in vital),
            boards=tuple(self._inboxes[one.name].standing() for one in self._parts),
            ended=report.ended,
        )

    def _together(self, vital: Sequence[Part]) -> BoardState:
        heater = self._board_with(Output.HEATER)
        pump = self._board_with(Output.PUMP)
        contactor = self._board_with(Output.MAIN_CONTACTOR)
        inputs = BoardInput.NONE
        dropped = 0
        for part in vital:
            inputs |= self._reports[part.name].board.inputs & part.inputs
            dropped += self._reports[part.name].board.dropped_frames
        return BoardState(
            acted_on=self._number,
            heater_permille=0 if heater is None else heater.heater_permille,
            heater_on_ms=0 if heater is None else heater.heater_on_ms,
            pump_on=pump is not None and pump.pump_on,
            main_contactor_closed=contactor is not None and contactor.main_contactor_closed,
            lease_left_s=0.0 if heater is None else heater.lease_left_s,
            inputs=inputs,
            dropped_frames=dropped,
        )

    def _board_with(self, output: Output) -> BoardState | None:
        part = next((part for part in self._parts if output in part.outputs), None)
        return None if part is None else self._reports[part.name].board

    async def _serve(self, part: Part, own: _PartInbox, _inbox: Inbox) -> None:
        try:
            await part.bridge.run(own)
        except LinkError as lost:
            raise LinkError(lost.reason, f"board {part.name}: {lost.detail}") from lost

    async def _keep_trying(self, part: Part, own: _PartInbox, inbox: Inbox) -> None:
        """Sessions with a board of probes; in between they do not answer."""
        told: LinkReason | None = None
        while True:
            try:
                await part.bridge.run(own)
            except LinkError as lost:
                if not own.is_linked and lost.reason is not told:
                    log.warning("board %s: %s: %s", part.name, lost.reason.value, lost.detail)
                own.link_lost(lost.reason, lost.detail)
                told = lost.reason
            for _ in range(round(RETRY_S / MISSING_EVERY_S)):
                now_s = self._clock.now_s()
                inbox.hear(
                    tuple(Sample(probe=name, fault=ReadingFault.NO_ANSWER, taken_s=now_s) for name in part.probes), None
                )
                await self._clock.sleep_until(now_s + MISSING_EVERY_S)


def _belongs(output: Output, part: Part) -> bool:
    return output in part.outputs or (output is Output.BUZZER and Output.HEATER in part.outputs)


def _first(group: BaseExceptionGroup[LinkError]) -> LinkError:
    error: BaseException = group
    while isinstance(error, BaseExceptionGroup):
        error = error.exceptions[0]
    assert isinstance(error, LinkError), "the group holds nothing else"  # noqa: S101 - for the type checker
    return error
