"""The whole site as one ASGI application."""

from __future__ import annotations

import asyncio
from http import HTTPStatus

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp

from kettlebridge.documents.trace_svg import TRACE_STYLE
from kettlebridge.web.access import Access
from kettlebridge.web.api import Api
from kettlebridge.web.guard import Guard, TooLargeError, too_large
from kettlebridge.web.hosts import Hosts
from kettlebridge.web.next_pages import NextPages
from kettlebridge.web.pages import Pages
from kettlebridge.web.pictures import Pictures
from kettlebridge.web.rescue_pages import RescuePages
from kettlebridge.web.sign_in_pages import SignInPages
from kettlebridge.web.stream import Streams
from kettlebridge.web.surroundings import Surroundings
from kettlebridge.web.telling import Teller
from kettlebridge.web.tools import SIGN_IN, Desk, json_problem, see_other

GZIP_FROM_BYTES = 600
FOR_PROGRAMS = "/api"
GO_ON = "Nothing was changed by it: every kettle goes on as before."
PLAIN_WORDS = {
    HTTPStatus.NOT_FOUND.phrase: "There is nothing at this address.",
    HTTPStatus.METHOD_NOT_ALLOWED.phrase: "This address cannot be used in that way.",
}
"""For what the framework says by itself."""


def site(around: Surroundings, hosts: Hosts, access: Access, stop: asyncio.Event) -> ASGIApp:
    """The application. `stop` ends every stream."""
    pictures, teller = Pictures(around), Teller(around)
    desk = Desk(
        around=around,
        access=access,
        pictures=pictures,
        teller=teller,
        streams=Streams(around, pictures, teller, stop),
    )

    async def problem(request: Request, error: Exception) -> Response:
        status, words = int(HTTPStatus.INTERNAL_SERVER_ERROR), "A mistake."
        if isinstance(error, HTTPException):
            status, words = error.status_code, PLAIN_WORDS.get(error.detail, error.detail)
        if request.url.path.startswith(FOR_PROGRAMS):
            return json_problem(status, words)
        if status == HTTPStatus.UNAUTHORIZED and request.method == "GET":
            return see_other(SIGN_IN)
        return desk.page(request, "plain.html", status=status, sentence=words, more=GO_ON, then=None, wait_s=0)

    async def large(_request: Request, _error: Exception) -> Response:
        return too_large()

    app = Starlette(
        routes=[
            *Pages(desk).routes(),
            *NextPages(desk).routes(),
            *RescuePages(desk).routes(),
            *SignInPages(desk).routes(),
            *Api(desk).routes(),
            Route("/static/trace.css", _trace_style),
            Mount("/static", StaticFiles(packages=[("kettlebridge.web", "static")])),
        ],
        middleware=[Middleware(GZipMiddleware, minimum_size=GZIP_FROM_BYTES)],
        exception_handlers={HTTPException: problem, TooLargeError: large},
    )
    return Guard(app, hosts)


async def _trace_style(_request: Request) -> Response:
    """The same colours as in the report and the docs."""
    return PlainTextResponse(TRACE_STYLE, media_type="text/css")
