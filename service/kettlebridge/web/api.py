"""The JSON API: each route is a row with the shapes that go in and come out; the OpenAPI document is made of them."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Sequence
from dataclasses import asdict, dataclass
from http import HTTPStatus

from pydantic import BaseModel, ValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response, StreamingResponse
from starlette.routing import BaseRoute, Route

from kettlebridge import __version__
from kettlebridge.documents.export import events_json, series_csv
from kettlebridge.model.errors import JournalError
from kettlebridge.model.ids import BatchId, KettleId
from kettlebridge.model.trace import Trace
from kettlebridge.web.payloads import Batch, BatchList, Course, Happened, KettleList, KettleState, Problem, Told
from kettlebridge.web.stream import STREAMS
from kettlebridge.web.telling import Telling
from kettlebridge.web.tools import Desk, json_problem
from kettlebridge.web.wording import mistakes

TOKEN_HEADER = "x-token"  # noqa: S105 - the name of a header
STATUS: dict[str | None, HTTPStatus] = {
    None: HTTPStatus.OK,
    "not_allowed": HTTPStatus.FORBIDDEN,
    "wrong_code": HTTPStatus.FORBIDDEN,
    "code_later": HTTPStatus.TOO_MANY_REQUESTS,
    "unanswered": HTTPStatus.GATEWAY_TIMEOUT,
}
"""By an answer's code; what the core refuses is a conflict with how things stand."""

Handler = Callable[[Request], Awaitable[Response]]
Gives = dict[HTTPStatus, type[BaseModel] | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """A route: `gives` by status; None is text of type `media`."""

    method: str
    path: str
    handler: Handler
    says: str
    gives: Gives
    takes: type[BaseModel] | None = None
    media: str = "application/json"


class Api:
    """The routes for programs."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        problem: Gives = {HTTPStatus.UNAUTHORIZED: Problem, HTTPStatus.NOT_FOUND: Problem}
        told: Gives = {
            HTTPStatus.OK: Told,
            HTTPStatus.BAD_REQUEST: Problem,
            HTTPStatus.UNAUTHORIZED: Problem,
            HTTPStatus.FORBIDDEN: Told,
            HTTPStatus.NOT_FOUND: Problem,
            HTTPStatus.CONFLICT: Told,
            HTTPStatus.REQUEST_ENTITY_TOO_LARGE: None,
            HTTPStatus.UNSUPPORTED_MEDIA_TYPE: Problem,
            HTTPStatus.TOO_MANY_REQUESTS: Told,
            HTTPStatus.GATEWAY_TIMEOUT: Told,
        }
        batch = "/api/batches/{batch}"
        self.entries: Sequence[Entry] = (
            Entry(
                method="GET",
                path="/api/kettles",
                handler=self.kettles,
                says="Every kettle",
                gives={HTTPStatus.OK: KettleList, HTTPStatus.UNAUTHORIZED: Problem},
            ),
            Entry(
                method="GET",
                path="/api/kettles/{kettle}",
                handler=self.kettle,
                says="How a kettle stands",
                gives={HTTPStatus.OK: KettleState, **problem},
            ),
            Entry(
                method="POST",
                path="/api/kettles/{kettle}/tell",
                handler=self.tell,
                says="A command. The same key acts once",
                takes=Telling,
                gives=told,
            ),
            Entry(
                method="GET",
                path="/api/batches",
                handler=self.batches,
                says="What was brewed",
                gives={HTTPStatus.OK: BatchList, HTTPStatus.UNAUTHORIZED: Problem},
            ),
            Entry(
                method="GET",
                path=batch,
                handler=self.batch,
                says="The course of a batch",
                gives={HTTPStatus.OK: Course, **problem},
            ),
            Entry(
                method="GET",
                path=f"{batch}/series.csv",
                handler=self.series,
                says="The figures of a batch",
                gives={HTTPStatus.OK: None, **problem},
                media="text/csv",
            ),
        )

    def routes(self) -> Sequence[BaseRoute]:
        """All of them, the document and the stream."""
        rows = [Route(entry.path, entry.handler, methods=[entry.method]) for entry in self.entries]
        return (
            *rows,
            Route("/api", self.page),
            Route("/api/openapi.json", self.document),
            Route("/kettles/{kettle}/stream", self.stream),
        )

    async def kettles(self, request: Request) -> Response:
        """Every kettle."""
        self._desk.visitor(request)
        return _json(KettleList(kettles={name: self._state(name) for name in self._desk.around.kettles}))

    async def kettle(self, request: Request) -> Response:
        """One of them."""
        self._desk.visitor(request)
        state = self._state(self._desk.kettle(request))
        if state is None:
            return json_problem(HTTPStatus.NOT_FOUND, "This kettle has not said anything yet.")
        return _json(state)

    def _state(self, kettle: KettleId) -> KettleState | None:
        snapshot = self._desk.around.snapshots.latest(kettle)
        if snapshot is None:
            return None
        view = self._desk.pictures.of(snapshot).view
        return KettleState(sentence=view.sentence, free=view.free, snapshot=snapshot)

    async def tell(self, request: Request) -> Response:
        """A command."""
        desk = self._desk
        kettle = desk.kettle(request)
        visitor = desk.writer(request, request.headers.get(TOKEN_HEADER))
        if request.headers.get("content-type", "").split(";")[0].strip() != "application/json":
            return json_problem(HTTPStatus.UNSUPPORTED_MEDIA_TYPE, "A command is sent as application/json.")
        try:
            told = Telling.model_validate_json(await request.body(), strict=False)
        except ValidationError as error:
            return json_problem(HTTPStatus.BAD_REQUEST, f"Not understood: {'; '.join(mistakes(error))}.")
        answer = await desk.teller.tell(kettle, told, visitor)
        said = Told(
            taken=answer.taken, refused=answer.refused, words=answer.words, recorded=answer.recorded, n=answer.n
        )
        return JSONResponse(said.model_dump(), status_code=STATUS.get(answer.refused, HTTPStatus.CONFLICT))

    async def batches(self, request: Request) -> Response:
        """What was brewed."""
        self._desk.visitor(request)
        found = await asyncio.to_thread(self._desk.around.records.batches)
        return _json(BatchList(batches=[Batch(**asdict(one)) for one in found]))

    async def batch(self, request: Request) -> Response:
        """The course of one."""
        trace = await self._trace(request)
        happened = [Happened.model_validate(one) for one in events_json(trace)]
        return _json(Course(batch=trace.batch, series=trace.series, spans=list(trace.spans), happened=happened))

    async def series(self, request: Request) -> Response:
        """Its figures."""
        trace = await self._trace(request)
        return PlainTextResponse(
            series_csv(trace),
            media_type="text/csv",
            headers={"content-disposition": f'attachment; filename="{trace.batch}.csv"'},
        )

    async def _trace(self, request: Request) -> Trace:
        self._desk.visitor(request)
        try:
            return await self._desk.around.traces.of(BatchId(request.path_params["batch"]))
        except JournalError as error:
            raise HTTPException(HTTPStatus.NOT_FOUND, str(error)) from error

    async def stream(self, request: Request) -> Response:
        """Server-sent events for a page."""
        self._desk.visitor(request)
        kettle = self._desk.kettle(request)
        if self._desk.streams.open >= STREAMS:
            return json_problem(HTTPStatus.SERVICE_UNAVAILABLE, "Too many pages look at once.")
        held = request.headers.get("last-event-id") or request.query_params.get("held", "")
        return StreamingResponse(self._desk.streams.of(kettle, held), media_type="text/event-stream")

    async def document(self, request: Request) -> Response:
        """The OpenAPI document."""
        self._desk.visitor(request)
        return JSONResponse(openapi(self.entries))

    async def page(self, request: Request) -> Response:
        """What a person needs to know of it."""
        self._desk.visitor(request)
        lines = [f"{entry.method:4} {entry.path}\n     {entry.says}" for entry in self.entries]
        head = f"Kettlebridge {__version__}: JSON for programs. OpenAPI: /api/openapi.json\n"
        return PlainTextResponse("\n".join([head, *lines, ""]))


def openapi(entries: Sequence[Entry]) -> dict[str, object]:
    """The document, OpenAPI 3.1."""
    paths: dict[str, dict[str, object]] = {}
    schemas: dict[str, object] = {}
    for entry in entries:
        operation: dict[str, object] = {
            "summary": entry.says,
            "responses": {str(status.value): _gives(entry, model, schemas) for status, model in entry.gives.items()},
        }
        names = [part[1:-1] for part in entry.path.split("/") if part.startswith("{")]
        if names:
            operation["parameters"] = [
                {"name": name, "in": "path", "required": True, "schema": {"type": "string"}} for name in names
            ]
        if entry.takes is not None:
            content = {"application/json": {"schema": _schema(entry.takes, schemas)}}
            operation["requestBody"] = {"required": True, "content": content}
        paths.setdefault(entry.path, {})[entry.method.lower()] = operation
    return {
        "openapi": "3.1.0",
        "info": {"title": "Kettlebridge", "version": __version__},
        "paths": paths,
        "components": {"schemas": schemas},
    }


def _gives(entry: Entry, model: type[BaseModel] | None, schemas: dict[str, object]) -> dict[str, object]:
    if model is None:
        media = entry.media if entry.media != "application/json" else "text/plain"
        return {"description": "text", "content": {media: {"schema": {"type": "string"}}}}
    return {
        "description": (model.__doc__ or "").split(".")[0],
        "content": {"application/json": {"schema": _schema(model, schemas)}},
    }


def _schema(model: type[BaseModel], schemas: dict[str, object]) -> dict[str, str]:
    """A reference; the shapes themselves go into `schemas`."""
    whole = model.model_json_schema(ref_template="#/components/schemas/{model}")
    schemas.update(whole.pop("$defs", {}))
    schemas[model.__name__] = whole
    return {"$ref": f"#/components/schemas/{model.__name__}"}


def _json(payload: BaseModel) -> Response:
    return Response(payload.model_dump_json(), media_type="application/json")
