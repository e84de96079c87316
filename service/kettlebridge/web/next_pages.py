"""What is brewed next: a recipe with its sheet, or a profile, chosen on the page and set up in the kettle, cold."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from http import HTTPStatus

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from kettlebridge.brewing.brew_sheet import brew_sheet
from kettlebridge.brewing.cautions import cautions, fits
from kettlebridge.brewing.day import Day
from kettlebridge.brewing.day_profile import profile_of
from kettlebridge.brewing.scaling import scaled
from kettlebridge.documents.caution_words import caution_words
from kettlebridge.documents.next_words import not_next
from kettlebridge.documents.sentences import leading
from kettlebridge.documents.sheet_sections import Section, sections
from kettlebridge.documents.steps import planned
from kettlebridge.model.command import CommandKind
from kettlebridge.model.ids import KettleId
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.plan import Profile
from kettlebridge.model.time_of_day import HH_MM
from kettlebridge.ports import Library, NextBatches
from kettlebridge.web.tools import SIGN_IN, Desk, fields_of, see_other
from kettlebridge.web.view import next_words

FIELDS = ("recipe", "profile", "litres", "ready_at")
LITRES = (1.0, 200.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """A day that may be set up. `profile` None: `problem` or a caution says why not."""

    name: str = ""
    profile: Profile | None = None
    cautions: tuple[tuple[str, bool], ...] = ()
    sections: tuple[Section, ...] = ()
    steps: tuple[tuple[str, str], ...] = ()
    problem: str = ""


class NextPages:
    """The routes of it."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    def routes(self) -> Sequence[BaseRoute]:
        """All of them."""
        return (
            Route("/kettles/{kettle}/next", self.choose),
            Route("/kettles/{kettle}/next", self.take, methods=["POST"]),
        )

    async def choose(self, request: Request) -> Response:
        """What there is, and the sheet of what was chosen."""
        desk = self._desk
        visitor = desk.access.visitor(request)
        if visitor is None:
            return see_other(SIGN_IN)
        kettle = desk.kettle(request)
        given = dict(request.query_params)
        return await self._page(request, kettle, given)

    async def take(self, request: Request) -> Response:
        """Sets it up. The batch that comes of it begins when somebody begins it."""
        desk = self._desk
        kettle = desk.kettle(request)
        fields = await fields_of(request)
        visitor = desk.writer(request, fields.pop("token", None))
        if not visitor.may(kettle, CommandKind.START):
            raise HTTPException(HTTPStatus.FORBIDDEN, "You may only look here.")
        batches = self._batches()
        draft = await asyncio.to_thread(drafted, batches.kettle(kettle), desk.around.library, fields)
        if draft.profile is None:
            return await self._page(request, kettle, fields)
        why_not = batches.prepare(kettle, draft.profile)
        if why_not is not None:
            return await self._page(request, kettle, fields, not_next(kettle, why_not))
        return desk.page(
            request,
            "plain.html",
            sentence=f"{draft.profile.name} is next in {kettle}.",
            more="It is not begun yet: its page comes up in a moment.",
            then=f"/kettles/{kettle}",
            wait_s=3,
        )

    def _batches(self) -> NextBatches:
        batches = self._desk.around.next_batches
        if batches is None:
            raise HTTPException(HTTPStatus.NOT_FOUND, "What is brewed here is settled.")
        return batches

    async def _page(self, request: Request, kettle: KettleId, given: Mapping[str, str], problem: str = "") -> Response:
        desk, batches = self._desk, self._batches()
        library = desk.around.library
        draft = await asyncio.to_thread(drafted, batches.kettle(kettle), library, given)
        visitor, snapshot = desk.visitor(request), desk.around.snapshots.latest(kettle)
        return desk.page(
            request,
            "next.html",
            busy="" if snapshot is None or next_words(snapshot) else leading(snapshot),
            kettle=kettle,
            recipes=await asyncio.to_thread(library.recipes),
            profiles=await asyncio.to_thread(library.profiles),
            given=dict.fromkeys(FIELDS, "") | dict(given),
            draft=draft,
            problem=problem or draft.problem,
            token=visitor.token,
            may_tell=visitor.may(kettle, CommandKind.START),
        )


def drafted(kettle: Kettle, library: Library, given: Mapping[str, str]) -> Draft:
    """The day that the fields name, an empty one where they name none."""
    ready_at = given.get("ready_at", "").strip() or None
    if ready_at is not None and not re.fullmatch(HH_MM, ready_at):
        return Draft(problem="Ready at: a time of day such as 07:00.")
    if name := given.get("recipe", ""):
        return _of_recipe(kettle, library, name, given)
    if name := given.get("profile", ""):
        profile = library.profile(name)
        if profile is None:
            return Draft(problem="That profile is not at hand any more.")
        return _with_steps(
            Draft(name=name, profile=profile if ready_at is None else replace(profile, ready_at=ready_at))
        )
    return Draft()


def _of_recipe(kettle: Kettle, library: Library, name: str, given: Mapping[str, str]) -> Draft:
    recipe, ready_at = library.recipe(name), given.get("ready_at", "").strip() or None
    if recipe is None:
        return Draft(problem="That recipe is not at hand any more.")
    try:
        litres = float(given.get("litres", "").strip().replace(",", ".") or recipe.batch_l)
        if not LITRES[0] <= litres <= LITRES[1]:
            raise ValueError(f"{litres:g} L are no batch")
        day = Day(ready_min=None if ready_at is None else _minutes(ready_at))
        sheet = brew_sheet(scaled(recipe, litres, None), kettle, day)
    except ValueError as error:
        return Draft(name=name, problem=f"There is no such day: {error}.")
    found = tuple((caution_words(each), each.stops) for each in cautions(sheet))
    profile = profile_of(sheet, ready_at) if fits(sheet) else None
    problem = "" if profile else f"This does not fit {kettle.name}."
    return _with_steps(Draft(name=name, profile=profile, cautions=found, sections=sections(sheet), problem=problem))


def _with_steps(draft: Draft) -> Draft:
    steps = () if draft.profile is None else tuple((step.name, planned(step)) for step in draft.profile.steps)
    return replace(draft, steps=steps)


def _minutes(clock: str) -> float:
    hours, minutes = clock.split(":")
    return 60.0 * int(hours) + int(minutes)
