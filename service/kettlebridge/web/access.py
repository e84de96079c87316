"""Who is asking: whoever is at the machine while no pass-phrase is set, else whoever has a session."""

from __future__ import annotations

import asyncio
import hmac
import secrets
from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response

from kettlebridge.model.ids import KettleId
from kettlebridge.web.guesses import Guesses
from kettlebridge.web.keys import TOKEN_BYTES, KeyFile, owner, token_hash
from kettlebridge.web.roles import HERE, Role, Visitor

COOKIE = "kettlebridge"
LASTS_S = 24 * 3600.0
SESSIONS = 256
"""When there are more the oldest goes, first of those who came by the link: whoever has that opens as many as it likes,
and must sign nobody out who may stop all heat."""


class WaitError(Exception):
    """A guess came too soon after a wrong one. `wait_s`: when to try again."""

    def __init__(self, wait_s: float) -> None:
        super().__init__(f"try again in {wait_s:.0f} s")
        self.wait_s = wait_s


@dataclass(frozen=True, slots=True, kw_only=True)
class _Session:
    visitor: Visitor
    until_s: float


class Access:
    """Sessions live in this process alone: after a restart everybody signs in again. Times are the loop's."""

    def __init__(self, keys: KeyFile, *, secure: bool = False) -> None:
        self._keys = keys
        self._secure = secure
        self._sessions: dict[str, _Session] = {}
        self._guesses = Guesses()
        self._one_at_a_time = asyncio.Lock()

    @property
    def wanted(self) -> bool:
        """Whether anybody has to sign in."""
        return bool(self._keys.keys)

    def visitor(self, request: Request) -> Visitor | None:
        """Who is asking; None: nobody who may."""
        token = request.cookies.get(COOKIE)
        if token is not None:
            session = self._sessions.get(token_hash(token))
            if session is not None and session.until_s > asyncio.get_running_loop().time():
                return session.visitor
        return None if self.wanted else HERE

    async def sign_in(self, phrase: str, address: str) -> Visitor | None:
        """Whose pass-phrase it is, None for nobody's. Raises WaitError for a guess that has to wait."""
        loop = asyncio.get_running_loop()
        async with self._one_at_a_time:
            wait_s = self._guesses.wait_s(address, loop.time())
            if wait_s > 0.0:
                raise WaitError(wait_s)
            key = await asyncio.to_thread(owner, self._keys.keys, phrase)
            if key is None:
                self._guesses.wrong(address, loop.time())
                return None
        self._guesses.right(address)
        return Visitor(who=key.who, role=key.role, kettle=None if key.kettle is None else KettleId(key.kettle))

    def by_link(self, token: str) -> Visitor | None:
        """Who comes by the view-only link."""
        if self._keys.link is None or not hmac.compare_digest(token_hash(token), self._keys.link):
            return None
        return Visitor(who="link", role=Role.VIEWER)

    def begin(self, response: Response, visitor: Visitor) -> None:
        """Opens a session and hands its cookie out with `response`."""
        token = secrets.token_urlsafe(TOKEN_BYTES)
        with_token = Visitor(
            who=visitor.who, role=visitor.role, kettle=visitor.kettle, token=secrets.token_urlsafe(TOKEN_BYTES)
        )
        until_s = asyncio.get_running_loop().time() + LASTS_S
        self._sessions[token_hash(token)] = _Session(visitor=with_token, until_s=until_s)
        oldest_first = sorted(self._sessions, key=lambda one: self._sessions[one].visitor.role is not Role.VIEWER)
        for old in oldest_first[:-SESSIONS]:
            del self._sessions[old]
        response.set_cookie(
            COOKIE, token, max_age=int(LASTS_S), path="/", httponly=True, samesite="strict", secure=self._secure
        )

    def end(self, request: Request, response: Response) -> None:
        """Closes the session that asks."""
        self._sessions.pop(token_hash(request.cookies.get(COOKIE, "")), None)
        response.delete_cookie(COOKIE, path="/", httponly=True, samesite="strict", secure=self._secure)


def token_fits(visitor: Visitor, token: str | None) -> bool:
    """Whether a write carries the session's own token; where nobody signs in there is none."""
    return not visitor.token or hmac.compare_digest(visitor.token.encode(), (token or "").encode())
