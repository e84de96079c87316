"""The pages, which work without a script too: every form may be posted, and comes back with its answer."""

from __future__ import annotations

import asyncio
import secrets
from collections.abc import Sequence
from urllib.parse import quote

from pydantic import ValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from kettlebridge.documents.states import STATE_WORDS
from kettlebridge.model.command import CommandKind
from kettlebridge.model.errors import JournalError
from kettlebridge.model.ids import BatchId, KettleId
from kettlebridge.model.plan import StepKind
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.web.access import WaitError
from kettlebridge.web.measured import measured
from kettlebridge.web.rescue import TROUBLES, advised
from kettlebridge.web.roles import ROLE_WORDS
from kettlebridge.web.telling import Telling, answer_of, from_form, words_of
from kettlebridge.web.tools import SIGN_IN, STOP_ALL, Desk, fields_of, now_s
from kettlebridge.web.view import KettleView

SEE_OTHER = 303
S_PER_MIN = 60.0


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
            Route("/kettles/{kettle}/rescue", self.rescue),
            Route("/kettles/{kettle}/measured", self.measured),
            Route(STOP_ALL, self.stop_all_heat, methods=["POST"]),
            Route("/batches", self.batches),
            Route("/batches/{batch}/report", self.report),
            Route(SIGN_IN, self.sign_in, methods=["GET", "POST"]),
            Route("/sign-out", self.sign_out, methods=["POST"]),
            Route("/view/{token}", self.by_link),
        )

    async def overview(self, request: Request) -> Response:
        """The only kettle's page, or all of them in short."""
        desk = self._desk
        visitor = desk.access.visitor(request)
        if visitor is None:
            return RedirectResponse(SIGN_IN, SEE_OTHER)
        kettles = desk.around.kettles
        if len(kettles) == 1:
            return RedirectResponse(f"/kettles/{kettles[0]}", SEE_OTHER)
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
            return RedirectResponse(SIGN_IN, SEE_OTHER)
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
        page = desk.page(
            request,
            "kettle.html",
            view=picture.view,
            parts=picture.parts,
            held=picture.held,
            trace="",
            answer=words_of(request.query_params.get("answer", "")) or "",
            visitor=visitor,
            visitor_words=ROLE_WORDS[visitor.role],
            others=len(desk.around.kettles) > 1,
            hurried=desk.around.hurried,
            may_tell=visitor.may(kettle, CommandKind.CONFIRM),
        )
        html = bytes(page.body).decode()
        for place, value in (("key", secrets.token_hex(8)), ("seen", str(snapshot.n)), ("token", visitor.token)):
            html = html.replace(f'value="" data-{place}', f'value="{value}" data-{place}')
        return HTMLResponse(html)

    async def tell(self, request: Request) -> Response:
        """A form of a kettle's page."""
        desk = self._desk
        kettle = desk.kettle(request)
        if desk.access.visitor(request) is None:
            return RedirectResponse(f"{SIGN_IN}?back={quote(f'/kettles/{kettle}')}&answer=signed_out", SEE_OTHER)
        fields = await fields_of(request)
        visitor = desk.writer(request, fields.pop("token", None))
        try:
            told = from_form(fields)
        except ValidationError:
            return _back(kettle, "not_understood")
        answer = await desk.teller.tell(kettle, told, visitor)
        return _back(kettle, answer.refused or ("taken" if answer.words == words_of("taken") else "unrecorded"))

    async def stop_all_heat(self, request: Request) -> Response:
        """On every kettle, at once."""
        desk = self._desk
        visitor = desk.writer(request, (await fields_of(request)).get("token"))
        told = Telling(do=CommandKind.STOP_HEAT, key=secrets.token_hex(8))
        answers = await asyncio.gather(*(desk.teller.tell(kettle, told, visitor) for kettle in desk.around.kettles))
        refused = next((answer.refused for answer in answers if answer.refused is not None), "taken")
        return RedirectResponse(f"/?answer={quote(refused)}", SEE_OTHER)

    async def trace(self, request: Request) -> Response:
        """The picture of the day, as a part of the page."""
        desk = self._desk
        desk.visitor(request)
        snapshot = desk.around.snapshots.latest(desk.kettle(request))
        if snapshot is None:
            raise HTTPException(404, "Nothing was measured yet.")
        return HTMLResponse(await desk.pictures.trace(snapshot.batch, narrow="narrow" in request.query_params))

    async def rescue(self, request: Request) -> Response:
        """What mends what went wrong; it only reckons, and tells the kettle nothing."""
        desk = self._desk
        if desk.access.visitor(request) is None:
            return RedirectResponse(SIGN_IN, SEE_OTHER)
        kettle = desk.kettle(request)
        shown = await asyncio.to_thread(self._rescued, kettle, dict(request.query_params))
        return desk.page(request, "rescue.html", 200, **shown)

    def _rescued(self, kettle: KettleId, given: dict[str, str]) -> dict[str, object]:
        """What the page of a rescue is filled with. Reads files and reckons: not for the loop."""
        desk, snapshot = self._desk, self._desk.around.snapshots.latest(kettle)
        plan = None if snapshot is None else desk.pictures.plans.of(snapshot.batch)
        recipes = desk.around.library.recipes()
        name = given.get("recipe") or ("" if plan is None else plan.profile.name)
        recipe = desk.around.library.recipe(name)
        trouble, found, problem = given.get("trouble", ""), None, ""
        if trouble in TROUBLES:
            try:
                found = None if recipe is None or plan is None else advised(trouble, given, recipe, plan)
                problem = "" if found else "That recipe is not at hand."
            except ValidationError as error:
                problem = f"{error.errors()[0]['msg']}: {error.errors()[0]['loc'][0]}."
            except ValueError as error:
                problem = f"That does not fit: {error}."
        return {
            "kettle": kettle,
            "troubles": TROUBLES,
            "chosen": trouble,
            "given": given | _left(snapshot, given),
            "recipes": recipes,
            "recipe": name,
            "hops": () if recipe is None else tuple(dict.fromkeys(hop.name for hop in recipe.hops)),
            "advised": found,
            "problem": problem,
        }

    async def measured(self, request: Request) -> Response:
        """What comes of what was measured, and what may be done about it."""
        desk = self._desk
        visitor = desk.access.visitor(request)
        if visitor is None:
            return RedirectResponse(SIGN_IN, SEE_OTHER)
        kettle = desk.kettle(request)
        snapshot = desk.around.snapshots.latest(kettle)
        if snapshot is None:
            return RedirectResponse(f"/kettles/{kettle}", SEE_OTHER)
        course = await desk.around.traces.of(snapshot.batch)
        plan = desk.pictures.plans.of(snapshot.batch)
        return desk.page(
            request,
            "measured.html",
            kettle=kettle,
            measured=measured(plan, course),
            key=secrets.token_hex(8),
            token=visitor.token,
            may_tell=visitor.may(kettle, CommandKind.EXTEND),
        )

    async def batches(self, request: Request) -> Response:
        """What was brewed."""
        desk = self._desk
        if desk.access.visitor(request) is None:
            return RedirectResponse(SIGN_IN, SEE_OTHER)
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
            raise HTTPException(404, str(error)) from error

    async def sign_in(self, request: Request) -> Response:
        """The form, and what comes of it. Guessing waits; whoever is signed in is not kept waiting by it."""
        desk = self._desk
        if not desk.access.wanted:
            return RedirectResponse("/", SEE_OTHER)
        plain = request.url.scheme == "http"
        if request.method != "POST":
            back, said = request.query_params.get("back", ""), request.query_params.get("answer", "")
            return desk.page(request, "sign_in.html", answer=words_of(said) or "", back=self._known(back), plain=plain)
        fields = await fields_of(request)
        phrase, back = fields.get("phrase", ""), self._known(fields.get("back", ""))
        address = "nowhere" if request.client is None else request.client.host
        try:
            visitor = await desk.access.sign_in(phrase, address)
        except WaitError as error:
            answer = f"Too many wrong tries: wait {error.wait_s:.0f} s."
            page = desk.page(request, "sign_in.html", status=429, answer=answer, back=back, plain=plain)
            page.headers["retry-after"] = f"{error.wait_s + 0.5:.0f}"
            return page
        if visitor is None:
            return desk.page(request, "sign_in.html", status=403, answer="That is not it.", back=back, plain=plain)
        response = RedirectResponse(back, SEE_OTHER)
        desk.access.begin(response, visitor)
        return response

    def _known(self, path: str) -> str:
        """Where to go after signing in: a kettle's page, and nothing else that an address may name."""
        pages = {f"/kettles/{kettle}" for kettle in self._desk.around.kettles}
        return path if path in pages else "/"

    async def sign_out(self, request: Request) -> Response:
        """Ends the session."""
        desk = self._desk
        desk.writer(request, (await fields_of(request)).get("token"))
        response = RedirectResponse(SIGN_IN, SEE_OTHER)
        desk.access.end(request, response)
        return response

    async def by_link(self, request: Request) -> Response:
        """The view-only link. A page goes between: a strict cookie is not sent along a way that began elsewhere."""
        desk = self._desk
        visitor = desk.access.by_link(request.path_params["token"])
        if visitor is None:
            raise HTTPException(404, "This link shows nothing any more.")
        response = desk.page(
            request,
            "plain.html",
            sentence="This link lets you look.",
            more="The kettles come up in a moment.",
            then="/",
            wait_s=0,
        )
        desk.access.begin(response, visitor)
        return response


def _of_all(views: Sequence[KettleView]) -> str:
    """The sentence that leads the overview."""
    alarmed = sum(1 for view in views if any(not alarm.seen for alarm in view.alarms))
    calling = sum(1 for view in views if view.calls)
    if alarmed:
        return f"{alarmed} of {len(views)} kettles {'has' if alarmed == 1 else 'have'} an alarm."
    if calling:
        return f"{calling} of {len(views)} kettles {'wants' if calling == 1 else 'want'} you."
    return f"{len(views)} kettles, and none of them wants you now."


def _left(snapshot: Snapshot | None, given: dict[str, str]) -> dict[str, str]:
    """Minutes left of a boil in hand, where nothing else was said."""
    step = None if snapshot is None else snapshot.step
    boils = step is not None and step.kind is StepKind.BOIL and step.remaining_s is not None
    if "left_min" in given or step is None or not boils:
        return {"hop": given.get("hop", "")}
    return {"left_min": f"{(step.remaining_s or 0.0) / S_PER_MIN:.0f}", "hop": given.get("hop", "")}


def _back(kettle: KettleId, code: str) -> Response:
    """To the page again, with what became of it."""
    answer = answer_of(code)
    return RedirectResponse(f"/kettles/{kettle}?answer={quote(answer.refused or code)}", SEE_OTHER)
