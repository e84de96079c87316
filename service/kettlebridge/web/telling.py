"""A command as it comes from a form or as JSON, and what became of it in words."""

from __future__ import annotations

import asyncio
import secrets
from dataclasses import dataclass

from pydantic import BaseModel, ConfigDict, Field

from kettlebridge.documents.refusals import refused
from kettlebridge.model.command import LOWERING, Command, CommandKind
from kettlebridge.model.ids import CommandId, KettleId
from kettlebridge.web.freshness import Freshness
from kettlebridge.web.guesses import Guesses
from kettlebridge.web.roles import Visitor
from kettlebridge.web.surroundings import Surroundings

PATIENCE_S = 15.0
"""A disk that stalls keeps the answer waiting, never the kettle; then the page asks again under the same key."""

KEY_LENGTH = 64


class Telling(BaseModel):
    """`key` makes it idempotent: the same key acts once. `seen_n` is the view that it was given in view of."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)

    do: CommandKind
    key: str | None = Field(default=None, min_length=8, max_length=KEY_LENGTH, pattern=r"^[A-Za-z0-9._-]+$")
    seen_n: int | None = Field(default=None, ge=0, le=2**53)
    call: str | None = Field(default=None, max_length=128)
    alarm: str | None = Field(default=None, max_length=128)
    minutes: float | None = Field(default=None, ge=-1000, le=1000)
    target_c: float | None = Field(default=None, ge=-100, le=1000)
    litres: float | None = Field(default=None, ge=0, le=10000)
    on: bool | None = None
    at_c: float | None = Field(default=None, ge=-100, le=1000)
    gravity_sg: float | None = Field(default=None, ge=0, le=10)
    brix: float | None = Field(default=None, ge=-100, le=100)
    step_index: int | None = Field(default=None, ge=0, le=1000)
    code: str | None = Field(default=None, max_length=64)


FIGURES = frozenset({"minutes", "target_c", "litres", "at_c", "gravity_sg", "brix"})


def from_form(fields: dict[str, str]) -> Telling:
    """Empty fields are none; a comma is a point. Raises ValidationError."""
    given = {name: value.strip() for name, value in fields.items() if value.strip()}
    return Telling.model_validate_strings(
        {name: value.replace(",", ".") if name in FIGURES else value for name, value in given.items()}
    )


TAKEN = frozenset({"taken", "unrecorded"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """`code` is a reason, or one of `TAKEN`; `words` say it. `recorded`: it is on disk."""

    code: str
    words: str
    recorded: bool
    n: int | None = None

    @property
    def taken(self) -> bool:
        """Whether the kettle took it."""
        return self.code in TAKEN

    @property
    def refused(self) -> str | None:
        """The reason, None where it was taken."""
        return None if self.taken else self.code


ANSWER_WORDS: dict[str, str] = {
    "taken": "Taken.",
    "unrecorded": "Taken, but it could not be recorded.",
    "not_allowed": "Not taken: you may only look here.",
    "wrong_code": "Not taken: that is not the code posted at the kettle.",
    "code_later": "Not taken, and not looked at: after a wrong code the next one waits, for 1 s, then twice as long "
    "each time, 5 min at most. Try again then, or press the button at the kettle.",
    "unanswered": "No answer yet. Look how things stand; asking again does nothing twice.",
    "not_understood": "Not taken: a number or a word in it makes no sense.",
    "signed_out": "Not taken: this session is over. Sign in again.",
}
"""What is not the core's to say."""


def words_of(code: str) -> str | None:
    """The words of an answer's code, None for no code of ours."""
    if code in ANSWER_WORDS:
        return ANSWER_WORDS[code]
    try:
        words = refused(code)
    except (KeyError, StopIteration):
        return None
    return f"Not taken: {words.why} {words.do}"


def answer_of(code: str, *, n: int | None = None, recorded: bool = False) -> Answer:
    """An answer by its code."""
    return Answer(code=code, words=words_of(code) or f"Not taken: {code}.", recorded=recorded, n=n)


class Teller:
    """Hands commands on for visitors who may give them."""

    def __init__(self, around: Surroundings) -> None:
        self._around = around
        self._codes = Guesses()
        self.freshness = Freshness(hurried=around.hurried)

    async def tell(self, kettle: KettleId, told: Telling, visitor: Visitor) -> Answer:
        """What became of it. The kettle is one of ours."""
        if not visitor.may(kettle, told.do):
            return answer_of("not_allowed")
        at_kettle = told.code is not None
        if told.code is not None and (why_not := self._code_fails(kettle, told.code)) is not None:
            if told.do not in LOWERING:
                return answer_of(why_not)
            at_kettle = False
        command = self._command(kettle, told, visitor, at_kettle)
        try:
            async with asyncio.timeout(PATIENCE_S):
                verdict = await self._around.commands.submit(kettle, command)
        except TimeoutError:
            return answer_of("unanswered")
        if verdict.refused is not None:
            return answer_of(verdict.refused, n=verdict.n)
        sure = verdict.recorded or told.do in LOWERING
        return answer_of("taken" if sure else "unrecorded", n=verdict.n, recorded=verdict.recorded)

    def _code_fails(self, kettle: KettleId, code: str) -> str | None:
        """Why the code does not count; None when it does. Wrong ones make the next wait, whoever gives it."""
        now_s = asyncio.get_running_loop().time()
        if self._codes.wait_s(kettle, now_s) > 0.0:
            return "code_later"
        if not self._around.at_kettle(kettle, code):
            self._codes.wrong(kettle, now_s)
            return "wrong_code"
        self._codes.right(kettle)
        return None

    def _command(self, kettle: KettleId, told: Telling, visitor: Visitor, at_kettle: bool) -> Command:
        newest = self._around.snapshots.latest(kettle)
        seen_n = told.seen_n
        if newest is not None:
            seen_n = self.freshness.meant(kettle, seen_n, newest.n, asyncio.get_running_loop().time())
        key = told.key or secrets.token_hex(8)
        return Command(
            id=CommandId(f"web.{told.do.value}.{key}"),
            kind=told.do,
            who=visitor.who,
            at_kettle=at_kettle,
            seen_n=seen_n,
            call=told.call,
            alarm=told.alarm,
            minutes=told.minutes,
            target_c=told.target_c,
            litres=told.litres,
            on=told.on,
            at_c=told.at_c,
            gravity_sg=told.gravity_sg,
            brix=told.brix,
            step_index=told.step_index,
        )
