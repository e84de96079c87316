"""What went wrong and what mends it, and what comes of what was measured: pages that only reckon."""

from __future__ import annotations

import asyncio
import secrets
from collections.abc import Sequence
from http import HTTPStatus

from pydantic import ValidationError
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from kettlebridge.model.command import CommandKind
from kettlebridge.model.ids import KettleId
from kettlebridge.model.plan import StepKind
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.model.units import S_PER_MIN
from kettlebridge.web.measured import measured
from kettlebridge.web.rescue import TROUBLES, advised
from kettlebridge.web.tools import SIGN_IN, Desk, see_other
from kettlebridge.web.wording import mistakes


class RescuePages:
    """The routes for a day that goes wrong."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    def routes(self) -> Sequence[BaseRoute]:
        """All of them."""
        return (
            Route("/kettles/{kettle}/rescue", self.rescue),
            Route("/kettles/{kettle}/measured", self.measured),
        )

    async def rescue(self, request: Request) -> Response:
        """What mends what went wrong; it only reckons, and tells the kettle nothing."""
        desk = self._desk
        if desk.access.visitor(request) is None:
            return see_other(SIGN_IN)
        kettle = desk.kettle(request)
        shown = await asyncio.to_thread(self._rescued, kettle, dict(request.query_params))
        return desk.page(request, "rescue.html", HTTPStatus.OK, **shown)

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
                problem = f"{mistakes(error, dict(TROUBLES[trouble].fields))[0]}."
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
            return see_other(SIGN_IN)
        kettle = desk.kettle(request)
        snapshot = desk.around.snapshots.latest(kettle)
        if snapshot is None:
            return see_other(f"/kettles/{kettle}")
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


def _left(snapshot: Snapshot | None, given: dict[str, str]) -> dict[str, str]:
    """Minutes left of a boil in hand, where nothing else was said."""
    step = None if snapshot is None else snapshot.step
    boils = step is not None and step.kind is StepKind.BOIL and step.remaining_s is not None
    if "left_min" in given or step is None or not boils:
        return {"hop": given.get("hop", "")}
    return {"left_min": f"{(step.remaining_s or 0.0) / S_PER_MIN:.0f}", "hop": given.get("hop", "")}
