"""The serial board as a Bridge: opens, joins, serves one session, and leaves it switched off.

Orders come from `offer` alone, one for each finished tick, written at once or not at all. No timer and no task here
ever makes or repeats one.
"""

from __future__ import annotations

from collections import Counter

from kettlebridge.drivers.serial_line.frames import Off, Query
from kettlebridge.drivers.serial_line.handshake import Handshake
from kettlebridge.drivers.serial_line.line import Line, open_line, sequence_numbers
from kettlebridge.drivers.serial_line.session import Count, Session, Tally
from kettlebridge.drivers.serial_line.settings import SerialLineSettings
from kettlebridge.drivers.serial_line.time_limit import time_limit
from kettlebridge.model.demand import Demand
from kettlebridge.model.errors import LinkError, LinkReason
from kettlebridge.ports import Clock, Inbox

SILENCE_S = 3.0
"""Without a fresh report for so long, the line counts as lost."""

ASK_PROBES_EVERY_S = 1.0


class SerialLine:
    """One board on one port. `run` may be called again after it has ended; the frame numbers go on."""

    def __init__(self, settings: SerialLineSettings, clock: Clock) -> None:
        self._settings = settings
        self._clock = clock
        self._numbers = sequence_numbers()
        self._line: Line | None = None
        self._session: Session | None = None
        self._tally: Tally = Counter()
        self._flushes = 0

    async def run(self, inbox: Inbox) -> None:
        """Opens, claims, and serves one session until cancelled. Raises LinkError when it is lost or refused."""
        line = await open_line(self._settings.port, self._clock, self._numbers)
        handshake = Handshake(line, self._clock, self._settings)
        self._line = line
        try:
            joined = await handshake.join()
            self._session = Session(joined, self._settings, self._tally)
            inbox.linked()
            await self._serve(line, self._session, inbox)
        finally:
            if self._session is not None and self._session.last_word is not None:
                inbox.hear((), self._session.last_word)
            self._session = None
            self._line = None
            if handshake.may_hold:
                line.send(Off())
            self._flushes += line.flushes
            await line.close()

    def offer(self, demands: tuple[Demand, ...]) -> None:
        """One order for what a finished tick wants; never waits. Without a session, or empty: nothing is sent.

        Raises ValueError for demands out of range: a bug.
        """
        if not demands:
            return
        order = None if self._session is None else self._session.order(demands)
        if order is None or self._line is None or self._session is None:
            self._tally[Count.IGNORED_OFFERS] += 1
            return
        self._session.ordered(self._line.send(order))

    def all_off(self) -> None:
        """Tells the board to drop every output at once, if the wire stands. That ends the session too."""
        self._session = None
        if self._line is not None:
            self._line.send(Off())

    def counts(self) -> dict[str, int]:
        """Oddities since the start, by name; refusals by their reason."""
        flushes = self._flushes + (0 if self._line is None else self._line.flushes)
        return {kind.value: number for kind, number in self._tally.items()} | {"flushed_writes": flushes}

    async def _serve(self, line: Line, session: Session, inbox: Inbox) -> None:
        probes_asked_s = session.fresh_s
        try:
            async with time_limit(self._clock, session.fresh_s + SILENCE_S) as limit:
                while True:
                    heard = await line.frame()
                    now_s = self._clock.now_s()
                    if session.is_stale(heard, now_s):
                        news = session.take_backlog((heard, *line.drain()), now_s)
                    else:
                        news = session.take(heard, now_s)
                    if news is not None:
                        inbox.hear(news.samples, news.report)
                    if not session.knows_probes and now_s >= probes_asked_s + ASK_PROBES_EVERY_S:
                        line.send(Query())
                        probes_asked_s = now_s
                    limit.until_s = session.fresh_s + SILENCE_S
        except TimeoutError:
            raise LinkError(LinkReason.LOST, f"no fresh report for {SILENCE_S:g} s") from None
