"""From an open line to a session: who are you, claim.

Nothing is switched off on the way in: a board that another host holds must go on refusing this one as busy, and a lease
that a dead host left behind ends by itself.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from kettlebridge.drivers.serial_line.frames import (
    MAJOR,
    NO_SESSION,
    Ability,
    Accepted,
    Board,
    Claim,
    ForeignBoard,
    FromHost,
    Heard,
    ProbeList,
    Query,
    Refusal,
    Refused,
)
from kettlebridge.drivers.serial_line.line import Line
from kettlebridge.drivers.serial_line.settings import SerialLineSettings
from kettlebridge.drivers.serial_line.time_limit import time_limit
from kettlebridge.model.errors import LinkError, LinkReason
from kettlebridge.ports import Clock

Answer = TypeVar("Answer")

RETRY_S = 0.5
BOARD_PATIENCE_S = 5.0
"""For the first answer: opening the port resets many boards, and they need seconds to boot."""

CLAIM_PATIENCE_S = 2.0

CLAIM_REFUSED = {Refusal.BUSY: LinkReason.BUSY, Refusal.VERSION: LinkReason.OTHER_VERSION}


@dataclass(frozen=True, slots=True, kw_only=True)
class Joined:
    """A session just begun. `claimed_s` is Clock time of the claim that was accepted.

    `probes` is None while the board has not said which ones it has.
    """

    board: Board
    session: int
    claimed_s: float
    probes: ProbeList | None


class Handshake:
    """One attempt to join the board at the end of `line`. Every way out but a session is a LinkError."""

    def __init__(self, line: Line, clock: Clock, settings: SerialLineSettings) -> None:
        self.may_hold = False
        self._line = line
        self._clock = clock
        self._settings = settings
        self._probes: ProbeList | None = None
        self._asked_s = 0.0

    async def join(self) -> Joined:
        """The session. `may_hold` is true from the claim on, until the board has refused it."""
        board = self._checked(await self._answer(Query(), _board, BOARD_PATIENCE_S))
        self.may_hold = True
        verdict: int | Refusal = await self._answer(Claim(boot=board.boot), _verdict, CLAIM_PATIENCE_S)
        if isinstance(verdict, Refusal):
            self.may_hold = False
            detail = f"board {board.board_id} on {self._settings.port} refuses the claim: {verdict.value}"
            raise LinkError(CLAIM_REFUSED.get(verdict, LinkReason.LOST), detail)
        return Joined(board=board, session=verdict, claimed_s=self._asked_s, probes=self._probes)

    async def _answer(
        self, question: FromHost, meaning: Callable[[int, Heard], Answer | None], patience_s: float
    ) -> Answer:
        """Asks again and again, each time with a new number, until a frame has a `meaning` as an answer to it."""
        give_up_s = self._clock.now_s() + patience_s
        while True:
            asked = self._line.send(question)
            self._asked_s = self._clock.now_s()
            try:
                async with time_limit(self._clock, min(self._asked_s + RETRY_S, give_up_s)):
                    while (answer := meaning(asked, await self._frame())) is None:
                        pass
                    return answer
            except TimeoutError:
                if self._clock.now_s() >= give_up_s:
                    raise LinkError(LinkReason.NO_ANSWER, self._silence(patience_s)) from None

    async def _frame(self) -> Heard:
        heard = await self._line.frame()
        if isinstance(heard.frame, ProbeList):
            self._probes = heard.frame
        return heard

    def _checked(self, board: Board | ForeignBoard) -> Board:
        port = self._settings.port
        if isinstance(board, ForeignBoard):
            said = f"{board.version.major}.{board.version.minor}"
            raise LinkError(LinkReason.OTHER_VERSION, f"the board on {port} speaks version {said}, not {MAJOR}")
        wanted_id = self._settings.board_id
        if wanted_id is not None and board.board_id.upper() != wanted_id.upper():
            raise LinkError(LinkReason.OTHER_BOARD, f"board {board.board_id} answers on {port}, not {wanted_id}")
        if self._settings.require_simulated and Ability.SIMULATED not in board.abilities:
            raise LinkError(LinkReason.NOT_SIMULATED, f"board {board.board_id} on {port} does not say it is simulated")
        return board

    def _silence(self, patience_s: float) -> str:
        damage = self._line.damage
        lost = damage.bad_crc + damage.malformed + damage.overlong
        noise = f"; {lost} damaged frames came: check speed and wiring" if lost else ""
        return f"nothing on {self._settings.port} answered within {patience_s:g} s{noise}"


def _board(_asked: int, heard: Heard) -> Board | ForeignBoard | None:
    """B carries a number of its own: any B answers Q."""
    return heard.frame if isinstance(heard.frame, Board | ForeignBoard) else None


def _verdict(asked: int, heard: Heard) -> int | Refusal | None:
    """The session or the refusal that answers the claim numbered `asked`; an answer to an earlier one is passed by."""
    if heard.seq != asked:
        return None
    match heard.frame:
        case Accepted(session=int(session)) if session != NO_SESSION:
            return session
        case Refused(why=why):
            return why
        case _:
            return None
