"""Promise 38: no page but our own tells a kettle anything, whatever it sends, with a session or without one."""

from __future__ import annotations

from itertools import product

import pytest

from kettlebridge.web.roles import Role
from tests.web.rooms import HOST, PORT, house
from tests.web.test_access import guarded, signed_in

STOP = {"do": "stop-heat"}
ORIGINS = {
    f"http://{HOST}": True,
    f"http://evil.example:{PORT}": False,
    f"http://localhost:{PORT}": False,
    "http://127.0.0.1": False,
    "null": False,
    "": False,
    f"http://{HOST}.evil.example": False,
    f"file://{HOST}": False,
}


@pytest.mark.parametrize("origin", ORIGINS)
async def test_only_our_own_page_may_write(origin: str) -> None:
    the_house = house()
    for answer in (
        await the_house.tell(STOP, {"origin": origin}),
        await the_house.post("/kettles/thimble/tell", STOP, {"origin": origin}),
        await the_house.post("/stop-all-heat", {}, {"origin": origin}),
    ):
        assert (answer.status != 403) is ORIGINS[origin]
    assert bool(the_house.commands.taken) is ORIGINS[origin]


@pytest.mark.parametrize(
    ("site", "goes"), [("same-origin", True), ("none", True), ("same-site", False), ("cross-site", False)]
)
async def test_what_the_browser_says_of_a_writes_origin_counts(site: str, goes: bool) -> None:
    the_house = house()
    assert ((await the_house.tell(STOP, {"sec-fetch-site": site})).status == 200) is goes
    assert bool(the_house.commands.taken) is goes


HOST_RIGHT, ORIGIN_RIGHT, SITE_RIGHT = HOST, f"http://{HOST}", "same-origin"


async def test_of_host_origin_site_and_token_all_must_be_right() -> None:
    the_house = guarded()
    right = await signed_in(the_house, Role.ALL)
    for host, origin, site, token in product((False, True), repeat=4):
        headers = {
            "host": HOST_RIGHT if host else f"evil.example:{PORT}",
            "origin": ORIGIN_RIGHT if origin else "http://evil.example",
            "sec-fetch-site": SITE_RIGHT if site else "cross-site",
        }
        form_token = {"token": right} if token else {}
        answers = (
            await the_house.tell(STOP, headers | ({"x-token": right} if token else {})),
            await the_house.post("/kettles/thimble/tell", STOP | form_token, headers),
            await the_house.post("/stop-all-heat", form_token, headers),
            await the_house.post("/sign-out", form_token, headers),
        )
        goes = host and origin and site and token
        statuses = [200, 303, 303, 303] if goes else [403 if host else 421] * 4
        assert [answer.status for answer in answers] == statuses, headers
        assert bool(the_house.commands.taken) is goes
