"""What every route needs: who asks, for which kettle, and answers in the house's own look."""

from __future__ import annotations

import asyncio
import secrets
from dataclasses import dataclass
from http import HTTPStatus
from urllib.parse import parse_qsl

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from kettlebridge.model.command import CommandKind
from kettlebridge.model.ids import KettleId
from kettlebridge.web.access import Access, token_fits
from kettlebridge.web.pictures import Pictures
from kettlebridge.web.roles import Visitor
from kettlebridge.web.stream import Streams
from kettlebridge.web.surroundings import Surroundings
from kettlebridge.web.telling import Teller

SIGN_IN = "/sign-in"
STOP_ALL = "/stop-all-heat"
FIELDS = 32


@dataclass(frozen=True, slots=True, kw_only=True)
class StopForm:
    """The one form that every page has for whoever may send it: where it goes, and what its button says."""

    action: str
    words: str
    key: str
    token: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Desk:
    """What the routes share."""

    around: Surroundings
    access: Access
    pictures: Pictures
    teller: Teller
    streams: Streams

    def page(self, request: Request, template: str, status: int = HTTPStatus.OK, **values: object) -> HTMLResponse:
        """A page in the house's own look."""
        shared = {"note": self.around.note(), "stop": self._stop_form(request)}
        html = self.pictures.templates.get_template(template).render(**shared, **values)
        return HTMLResponse(html, status_code=status)

    def _stop_form(self, request: Request) -> StopForm | None:
        """For the kettle that the page is about; on one about none, for all. None: whoever asks may not stop them."""
        visitor, kettles = self.access.visitor(request), self.around.kettles
        if visitor is None or not all(visitor.may(kettle, CommandKind.STOP_HEAT) for kettle in kettles):
            return None
        meant = tuple(kettle for kettle in kettles if kettle == request.path_params.get("kettle")) or kettles
        one = meant[0] if len(meant) == 1 else None
        return StopForm(
            action=STOP_ALL if one is None else f"/kettles/{one}/tell",
            words="Stop all heat on every kettle" if one is None else "Stop all heat",
            key=secrets.token_hex(8),
            token=visitor.token,
        )

    def kettle(self, request: Request) -> KettleId:
        """The kettle that a path names. Raises HTTPException: there is none."""
        name = KettleId(request.path_params["kettle"])
        if name not in self.around.kettles:
            raise HTTPException(HTTPStatus.NOT_FOUND, "There is no such kettle here.")
        return name

    def visitor(self, request: Request) -> Visitor:
        """Who asks. Raises HTTPException: nobody who may."""
        visitor = self.access.visitor(request)
        if visitor is None:
            raise HTTPException(HTTPStatus.UNAUTHORIZED, "Sign in first.")
        return visitor

    def writer(self, request: Request, token: str | None) -> Visitor:
        """Who writes, with the token of the session. Raises HTTPException."""
        visitor = self.visitor(request)
        if not token_fits(visitor, token):
            raise HTTPException(HTTPStatus.FORBIDDEN, "This form is of another session: load the page again.")
        return visitor


async def fields_of(request: Request) -> dict[str, str]:
    """The fields of a posted form, the last of each name. Raises HTTPException for a body that is no form of ours."""
    if request.headers.get("content-type", "").split(";")[0].strip() != "application/x-www-form-urlencoded":
        raise HTTPException(HTTPStatus.UNSUPPORTED_MEDIA_TYPE, "A form is sent as application/x-www-form-urlencoded.")
    try:
        return dict(parse_qsl((await request.body()).decode("ascii"), max_num_fields=FIELDS))
    except ValueError as error:
        raise HTTPException(HTTPStatus.BAD_REQUEST, "This form makes no sense.") from error


def see_other(path: str) -> RedirectResponse:
    """On to another page, which is asked for anew."""
    return RedirectResponse(path, HTTPStatus.SEE_OTHER)


def json_problem(status: int, words: str, **more: object) -> Response:
    """An answer to a program that did not get what it asked for."""
    return JSONResponse({"error": words, "words": words, **more}, status_code=status)


def now_s() -> float:
    """The loop's own seconds: real ones, whatever time the kettles live in."""
    return asyncio.get_running_loop().time()
