"""The door of the page: every request passes it before anything else looks at it, the event stream included.

Host first (DNS rebinding), then where a write comes from, then its size; every answer leaves with the same headers.
"""

from __future__ import annotations

from base64 import b64encode
from hashlib import sha256
from http import HTTPStatus

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from kettlebridge.documents.report import REPORT_STYLE
from kettlebridge.web.hosts import Hosts, same_origin

BODY_BYTES = 16 * 1024
READING = frozenset({"GET", "HEAD"})
REPORT_STYLE_HASH = b64encode(sha256(REPORT_STYLE.encode()).digest()).decode()
"""A report carries its style inside, being one file: that very text is let through, and no other."""

HEADERS = {
    "content-security-policy": "default-src 'none'; script-src 'self'; "
    f"style-src 'self' 'sha256-{REPORT_STYLE_HASH}'; img-src 'self'; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",  # under "no-referrer" a browser sends our own forms with `Origin: null`
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
}


class TooLargeError(Exception):
    """A body beyond BODY_BYTES."""


class Guard:
    """Pure ASGI, so that nothing runs before it."""

    def __init__(self, app: ASGIApp, hosts: Hosts) -> None:
        self._app = app
        self._hosts = hosts

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request. Anything but HTTP is none of ours."""
        if scope["type"] != "http":
            return
        refusal = self._refusal(scope["method"], Headers(scope=scope))

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers[name] = value
                headers.setdefault("cache-control", "no-store")
            await send(message)

        if refusal is not None:
            await refusal(scope, receive, with_headers)
            return
        await self._app(scope, _bounded(receive), with_headers)

    def _refusal(self, method: str, headers: Headers) -> PlainTextResponse | None:
        hosts = headers.getlist("host")
        if len(hosts) != 1 or not self._hosts.knows(hosts[0]):
            return PlainTextResponse(
                "This is not the name of a kettle's page.\n", status_code=HTTPStatus.MISDIRECTED_REQUEST
            )
        if method not in READING:
            if _foreign(headers, hosts[0]):
                return PlainTextResponse(
                    "Another page may not tell a kettle anything.\n", status_code=HTTPStatus.FORBIDDEN
                )
            length = headers.get("content-length", "0")
            if not length.isascii() or not length.isdigit() or int(length) > BODY_BYTES:
                return too_large()
        return None


def _foreign(headers: Headers, host: str) -> bool:
    """Whether a browser says that another site sent this. What is no browser says nothing, and has no one's cookies."""
    origins = headers.getlist("origin")
    if any(not same_origin(origin, host) for origin in origins):
        return True
    return headers.get("sec-fetch-site", "same-origin") not in {"same-origin", "none"}


def too_large() -> PlainTextResponse:
    """What answers a TooLargeError."""
    return PlainTextResponse(
        f"At most {BODY_BYTES} bytes.\n",
        status_code=HTTPStatus.REQUEST_ENTITY_TOO_LARGE,
        headers={"connection": "close"},
    )


def _bounded(receive: Receive) -> Receive:
    """Bodies without a declared length are counted as they come."""
    taken = 0

    async def counted() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > BODY_BYTES:
            raise TooLargeError
        return message

    return counted
