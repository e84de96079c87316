"""The pages, which work without a script too: every form may be posted, and comes back with its answer."""

from __future__ import annotations

import asyncio
import secrets
from collections.abc import Sequence
from http import HTTPStatus
from urllib.parse import quote

from pydantic import ValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import BaseRoute, Route

from kettlebridge.documents.states import STATE_WORDS
from kettlebridge.model.command import CommandKind
from kettlebridge.model.errors import JournalError
from kettlebridge.model.ids import BatchId, KettleId
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.web.pictures import Form
from kettlebridge.web.roles import ROLE_WORDS
from kettlebridge.web.telling import Telling, from_form, words_of
from kettlebridge.web.tools import SIGN_IN, STOP_ALL, Desk, fields_of, now_s, see_other
from kettlebridge.web.view import KettleView


class Pages:
    """The routes for people."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    def routes(self) -> Sequence[BaseRoute]:
        """All of them."""
        return (
            Route("/", self.overview, name="overview"),
            Route("/kettles/{kettle}", self.kettle),
            Route("/kettles/{kettle}/tell", self.tell, methods=["POST"]),
            Route("/kettles/{kettle}/trace", self.trace),
            Route(STOP_ALL, self.stop_all_heat, methods=["POST"]),
            Route("/batches", self.batches),
            Route("/batches/{batch}/report", self.report),
        )

    async def overview(self, request: Request) -> Response:
        """The only kettle's page, or all of them in short."""
        desk = self._desk
        visitor = desk.access.visitor(request)
        if visitor is None:
            return see_other(SIGN_IN)
        kettles = desk.around.kettles
        if len(kettles) == 1:
            return see_other(f"/kettles/{kettles[0]}")
        views = [desk.pictures.of(snapshot).view for snapshot in map(desk.around.snapshots.latest, kettles) if snapshot]
        return desk.page(
            request,
            "overview.html",
            views=views,
            sentence=_of_all(views),
            answer=words_of(request.query_params.get("answer", "")) or "",
            visitor=visitor,
            visitor_words=ROLE_WORDS[visitor.role],
        )

    async def kettle(self, request: Request) -> Response:
        """A kettle's page, whole: what the stream brings later is in it already."""
        desk = self._desk
        if desk.access.visitor(request) is None:
            return see_other(SIGN_IN)
        kettle = desk.kettle(request)
        snapshot = desk.around.snapshots.latest(kettle)
        if snapshot is None:
            return desk.page(
                request,
                "plain.html",
                sentence="This kettle has not said anything yet.",
                more="Its board is being looked for.",
                then=request.url.path,
                wait_s=2,
            )
        return self._kettle_page(request, kettle, snapshot)

    def _kettle_page(self, request: Request, kettle: KettleId, snapshot: Snapshot) -> Response:
        desk = self._desk
        visitor = desk.visitor(request)
        picture = desk.pictures.of(snapshot)
        desk.teller.freshness.shown(kettle, snapshot.n, now_s())
        form = Form(key=secrets.token_hex(8), seen=str(snapshot.n), token=visitor.token)
        return desk.page(
            request,
            "kettle.html",
            view=picture.view,
            parts=desk.pictures.filled(picture, form),
            form=form,
            held=picture.held,
            trace="",
            answer=words_of(request.query_params.get("answer", "")) or "",
            visitor=visitor,
            visitor_words=ROLE_WORDS[visitor.role],
            others=len(desk.around.kettles) > 1,
            hurried=desk.around.hurried,
            may_tell=visitor.may(kettle, CommandKind.CONFIRM),
        )

    async def tell(self, request: Request) -> Response:
        """A form of a kettle's page."""
        desk = self._desk
        kettle = desk.kettle(request)
        if desk.access.visitor(request) is None:
            return see_other(f"{SIGN_IN}?back={quote(f'/kettles/{kettle}')}&answer=signed_out")
        fields = await fields_of(request)
        visitor = desk.writer(request, fields.pop("token", None))
        try:
            told = from_form(fields)
        except ValidationError:
            return _back(kettle, "not_understood")
        answer = await desk.teller.tell(kettle, told, visitor)
        return _back(kettle, answer.code)

    async def stop_all_heat(self, request: Request) -> Response:
        """On every kettle, at once."""
        desk = self._desk
        visitor = desk.writer(request, (await fields_of(request)).get("token"))
        told = Telling(do=CommandKind.STOP_HEAT, key=secrets.token_hex(8))
        answers = await asyncio.gather(*(desk.teller.tell(kettle, told, visitor) for kettle in desk.around.kettles))
        refused = next((answer.refused for answer in answers if answer.refused is not None), "taken")
        return see_other(f"/?answer={quote(refused)}")

    async def trace(self, request: Request) -> Response:
        """The picture of the day, as a part of the page."""
        desk = self._desk
        desk.visitor(request)
        snapshot = desk.around.snapshots.latest(desk.kettle(request))
        if snapshot is None:
            raise HTTPException(HTTPStatus.NOT_FOUND, "Nothing was measured yet.")
        return HTMLResponse(await desk.pictures.trace(snapshot.batch, narrow="narrow" in request.query_params))

    async def batches(self, request: Request) -> Response:
        """What was brewed."""
        desk = self._desk
        if desk.access.visitor(request) is None:
            return see_other(SIGN_IN)
        found = await asyncio.to_thread(desk.around.records.batches)
        shown = [
            {
                "batch": one.batch,
                "kettle": one.kettle,
                "profile": one.profile,
                "begun": desk.around.time.date_hh_mm(one.started_utc_s),
                "ended": "not finished" if one.ended is None else STATE_WORDS[one.ended].name,
            }
            for one in found
        ]
        return desk.page(request, "batches.html", batches=shown)

    async def report(self, request: Request) -> Response:
        """The record of a batch as a page that prints."""
        self._desk.visitor(request)
        try:
            return HTMLResponse(await self._desk.pictures.report(BatchId(request.path_params["batch"])))
        except JournalError as error:
            raise HTTPException(HTTPStatus.NOT_FOUND, str(error)) from error


def _of_all(views: Sequence[KettleView]) -> str:
    """The sentence that leads the overview."""
    alarmed = sum(1 for view in views if any(not alarm.seen for alarm in view.alarms))
    calling = sum(1 for view in views if view.calls)
    if alarmed:
        return f"{alarmed} of {len(views)} kettles {'has' if alarmed == 1 else 'have'} an alarm."
    if calling:
        return f"{calling} of {len(views)} kettles {'wants' if calling == 1 else 'want'} you."
    return f"{len(views)} kettles, and none of them wants you now."


def _back(kettle: KettleId, code: str) -> Response:
    """To the page again, with what became of it."""
    return see_other(f"/kettles/{kettle}?answer={quote(code)}")
