"""Who looks and who tells: signing in and out, and the view-only link."""

from __future__ import annotations

from collections.abc import Sequence
from http import HTTPStatus

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from kettlebridge.web.access import WaitError
from kettlebridge.web.telling import words_of
from kettlebridge.web.tools import SIGN_IN, Desk, fields_of, see_other


class SignInPages:
    """The routes to a session."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    def routes(self) -> Sequence[BaseRoute]:
        """All of them."""
        return (
            Route(SIGN_IN, self.sign_in, methods=["GET", "POST"]),
            Route("/sign-out", self.sign_out, methods=["POST"]),
            Route("/view/{token}", self.by_link),
        )

    async def sign_in(self, request: Request) -> Response:
        """The form, and what comes of it. Guessing waits; whoever is signed in is not kept waiting by it."""
        desk = self._desk
        if not desk.access.wanted:
            return see_other("/")
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
            page = desk.page(
                request, "sign_in.html", status=HTTPStatus.TOO_MANY_REQUESTS, answer=answer, back=back, plain=plain
            )
            page.headers["retry-after"] = f"{error.wait_s + 0.5:.0f}"
            return page
        if visitor is None:
            return desk.page(
                request, "sign_in.html", status=HTTPStatus.FORBIDDEN, answer="That is not it.", back=back, plain=plain
            )
        response = see_other(back)
        desk.access.begin(response, visitor)
        return response

    async def sign_out(self, request: Request) -> Response:
        """Ends the session."""
        desk = self._desk
        desk.writer(request, (await fields_of(request)).get("token"))
        response = see_other(SIGN_IN)
        desk.access.end(request, response)
        return response

    async def by_link(self, request: Request) -> Response:
        """The view-only link. A page goes between: a strict cookie is not sent along a way that began elsewhere."""
        desk = self._desk
        visitor = desk.access.by_link(request.path_params["token"])
        if visitor is None:
            raise HTTPException(HTTPStatus.NOT_FOUND, "This link shows nothing any more.")
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

    def _known(self, path: str) -> str:
        """Where to go after signing in: a kettle's page, and nothing else that an address may name."""
        pages = {f"/kettles/{kettle}" for kettle in self._desk.around.kettles}
        return path if path in pages else "/"
