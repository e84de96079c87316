"""One session with a board, without any I/O: what its frames mean, and what may be told to it."""

from __future__ import annotations

import logging
from collections import Counter, deque
from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import Enum
from functools import reduce
from operator import or_

from kettlebridge.drivers.serial_line.board_time import BoardTime
from kettlebridge.drivers.serial_line.frames import (
    NO_SESSION,
    Board,
    Conversion,
    ForeignBoard,
    Heard,
    Order,
    ProbeList,
    Refusal,
    Refused,
    Report,
)
from kettlebridge.drivers.serial_line.handshake import Joined
from kettlebridge.drivers.serial_line.settings import SerialLineSettings
from kettlebridge.model.demand import Demand, Output
from kettlebridge.model.errors import LinkError, LinkReason
from kettlebridge.model.ids import ProbeName
from kettlebridge.model.reading import PRESSES, BoardInput, BoardState, ReadingFault
from kettlebridge.model.sample import BoardReport, Sample

log = logging.getLogger(__name__)

LATE_S = 1.0
"""A report this much longer on its way than the quickest of the last minute is stale."""

SAME_CONVERSION_MS = 20
"""Two reports of one probe whose conversions ended closer together than this tell of the same conversion."""

MISSING_EVERY_S = 1.0
"""How often a probe that the board does not have is reported as giving no answer."""

ANSWERABLE = 64
"""Orders remembered, so that a refusal can be told from one that answers somebody else."""

ENDING = {
    Refusal.LAPSED: LinkReason.LAPSED,
    Refusal.SESSION: LinkReason.LAPSED,
    Refusal.BUSY: LinkReason.BUSY,
    Refusal.VERSION: LinkReason.OTHER_VERSION,
}
"""Refusals after which the session is no more. The others leave it alive and are counted."""

SWITCH_POSITIONS = {0: False, 1000: True}


class Count(Enum):
    """What is counted besides refusals and damage to frames."""

    STALE_REPORTS = "stale_reports"
    REPEATED_REPORTS = "repeated_reports"
    IGNORED_OFFERS = "ignored_offers"


Tally = Counter[Count | Refusal]


@dataclass(frozen=True, slots=True, kw_only=True)
class News:
    """What one report says, for the inbox."""

    samples: tuple[Sample, ...]
    report: BoardReport


class Session:
    """From the claim to the end. Raises LinkError when a frame says that the session is over.

    `fresh_s` is Clock time of the last report that was not late; until there is one, of the claim. `last_word` is the
    report in which the board said that it had ended the session by itself.
    """

    def __init__(self, joined: Joined, settings: SerialLineSettings, tally: Tally) -> None:
        self.fresh_s = joined.claimed_s
        self.last_word: BoardReport | None = None
        self._joined = joined
        self._tally = tally
        self._longest_ttl_ms = min(joined.board.max_ttl_ms, round(settings.lease_s * 1000))
        self._names = {rom.upper(): name for rom, name in settings.probes.items()}
        self._probes: Mapping[int, ProbeName] | None = None
        self._missing: tuple[ProbeName, ...] = ()
        self._missing_told_s = -MISSING_EVERY_S
        self._ends_ms: dict[int, int] = {}
        self._time: BoardTime | None = None
        self._ordered: deque[int] = deque(maxlen=ANSWERABLE)
        self._last_refusal: Refusal | None = None
        if joined.probes is not None:
            self._map_probes(joined.probes)

    @property
    def knows_probes(self) -> bool:
        """Whether the board has said which probe is which; until then no temperature can be told."""
        return self._probes is not None

    def is_stale(self, heard: Heard, now_s: float) -> bool:
        """Whether `heard` is a report of this session that was held up on its way."""
        report = heard.frame
        if not isinstance(report, Report) or report.session != self._joined.session:
            return False
        time = self._time_of(report)
        return time.is_newer(report.up_ms) and time.late_s(report.up_ms, now_s) > LATE_S

    def take(self, heard: Heard, now_s: float) -> News | None:
        """What a frame received at `now_s` says; None when it has no news for the inbox."""
        match heard.frame:
            case Report() as report:
                return self._fresh(report, now_s)
            case ProbeList() as probes:
                self._map_probes(probes)
            case Refused(why=why) if heard.seq in self._ordered:
                self._refused(why)
            case Board() as board if board.boot != self._joined.board.boot:
                raise LinkError(LinkReason.LOST, f"board {board.board_id} restarted ({board.cause.value})")
            case ForeignBoard():
                raise LinkError(LinkReason.LOST, "another board answers")
            case _:
                pass
        return None

    def take_backlog(self, backlog: tuple[Heard, ...], now_s: float) -> News | None:
        """All that a drain brought. Of its reports the newest counts, for what the board does, not for temperatures.

        What was pressed in any of them was pressed.
        """
        reports = [heard.frame for heard in backlog if isinstance(heard.frame, Report)]
        for heard in backlog:
            if not isinstance(heard.frame, Report):
                self.take(heard, now_s)
        ours = [report for report in reports if self._is_ours(report)]
        self._tally[Count.STALE_REPORTS] += len(reports)
        if not ours:
            return None
        newest = max(ours, key=lambda report: self._time_of(report).since_first_ms(report.up_ms))
        self._time_of(newest).note(newest.up_ms)
        pressed = reduce(or_, (report.inputs for report in ours), BoardInput.NONE) & PRESSES
        return News(samples=(), report=self._account(replace(newest, inputs=newest.inputs | pressed)))

    def order(self, demands: tuple[Demand, ...]) -> Order | None:
        """The order that says `demands`; None when they follow from no report of this session.

        Raises ValueError for demands that contradict each other or are out of range: a bug.
        """
        acted_on = demands[0].acted_on
        by_output = {demand.output: demand.permille for demand in demands}
        if len(by_output) < len(demands) or any(demand.acted_on != acted_on for demand in demands):
            raise ValueError(f"demands that contradict each other: {demands!r}")
        if self._time is None or not self._time.has_noted(acted_on):
            return None
        return Order(
            session=self._joined.session,
            acted_on=acted_on,
            ttl_ms=min(self._longest_ttl_ms, *(demand.ttl_ms for demand in demands)),
            heater_permille=by_output.get(Output.HEATER, 0),
            pump_on=_switch(by_output.get(Output.PUMP, 0)),
            contactor_on=_switch(by_output.get(Output.MAIN_CONTACTOR, 0)),
            buzzer=by_output.get(Output.BUZZER, 0),
        )

    def ordered(self, seq: int) -> None:
        """An order went out as `seq`."""
        self._ordered.append(seq)

    def _time_of(self, report: Report) -> BoardTime:
        if self._time is None:
            self._time = BoardTime(report.up_ms, self._joined.claimed_s)
        return self._time

    def _is_ours(self, report: Report) -> bool:
        """False for a report from before the claim or one that came twice. Raises LinkError when we were put out."""
        if report.session != self._joined.session:
            if self._time is not None and self._time.is_newer(report.up_ms):
                if report.session == NO_SESSION:  # else the outputs are another's
                    self.last_word = replace(self._account(report), ended=True)
                raise LinkError(LinkReason.LAPSED, "the board ended the session")
            return False
        if not self._time_of(report).is_newer(report.up_ms):
            self._tally[Count.REPEATED_REPORTS] += 1
            return False
        return True

    def _fresh(self, report: Report, now_s: float) -> News | None:
        if not self._is_ours(report):
            return None
        self._time_of(report).learn(report.up_ms, now_s)
        self.fresh_s = now_s
        account = self._account(report)
        return News(
            samples=self._samples(report, account.taken_s) + self._absent(account.taken_s, now_s), report=account
        )

    def _account(self, report: Report) -> BoardReport:
        state = BoardState(
            acted_on=report.up_ms,
            heater_permille=report.heater_permille,
            heater_on_ms=report.heater_on_ms,
            pump_on=report.pump_on,
            main_contactor_closed=report.contactor_on,
            lease_left_s=report.lease_left_ms / 1000,
            inputs=report.inputs,
            dropped_frames=report.dropped_frames,
        )
        return BoardReport(board=state, taken_s=self._time_of(report).clock_s(report.up_ms))

    def _samples(self, report: Report, taken_s: float) -> tuple[Sample, ...]:
        return tuple(
            Sample(
                probe=self._probes[index],
                value_c=conversion.value_c,
                fault=conversion.fault,
                taken_s=taken_s - conversion.age_ms / 1000,
            )
            for index, conversion in report.conversions
            if self._probes is not None and index in self._probes and self._is_new(index, conversion, report)
        )

    def _is_new(self, index: int, conversion: Conversion, report: Report) -> bool:
        """Whether it tells more than the report before did. A fault is news each time."""
        if conversion.fault is not None:
            return True
        end_ms = self._time_of(report).since_first_ms(report.up_ms) - conversion.age_ms
        before_ms = self._ends_ms.get(index)
        self._ends_ms[index] = end_ms
        return before_ms is None or abs(end_ms - before_ms) > SAME_CONVERSION_MS

    def _absent(self, taken_s: float, now_s: float) -> tuple[Sample, ...]:
        if not self._missing or now_s < self._missing_told_s + MISSING_EVERY_S:
            return ()
        self._missing_told_s = now_s
        return tuple(Sample(probe=name, fault=ReadingFault.NO_ANSWER, taken_s=taken_s) for name in self._missing)

    def _map_probes(self, listed: ProbeList) -> None:
        roms = {index: rom.upper() for index, rom in listed.roms}
        probes = {index: self._names[rom] for index, rom in roms.items() if rom in self._names}
        if probes == self._probes:
            return
        found = set(probes.values())
        self._probes = probes
        self._missing = tuple(name for name in self._names.values() if name not in found)
        self._ends_ms.clear()
        board_id = self._joined.board.board_id
        if self._missing:
            log.warning("board %s does not have the probes %s", board_id, ", ".join(self._missing))
        strangers = [rom for rom in roms.values() if rom not in self._names]
        if strangers:
            log.info("board %s has probes that no kettle file names: %s", board_id, ", ".join(strangers))

    def _refused(self, why: Refusal) -> None:
        self._tally[why] += 1
        reason = ENDING.get(why)
        if reason is not None:
            raise LinkError(reason, f"board {self._joined.board.board_id} refused an order: {why.value}")
        if why is not self._last_refusal:
            log.warning("board %s refused an order: %s", self._joined.board.board_id, why.value)
        self._last_refusal = why


def _switch(permille: int) -> bool:
    if permille not in SWITCH_POSITIONS:
        raise ValueError(f"{permille} per mille of an output that is only off or on")
    return SWITCH_POSITIONS[permille]
