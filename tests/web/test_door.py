"""What never gets in: foreign names, foreign pages, floods. Promises 37 and 38, and the door's part of 40."""

from __future__ import annotations

import pytest

from kettlebridge.web.guard import BODY_BYTES
from kettlebridge.web.hosts import Hosts
from tests.web.rooms import HOST, PORT, house

PATHS = ("/", "/kettles/thimble", "/kettles/thimble/stream", "/api/kettles", "/static/page.js", "/nowhere")
FOREIGN_HOSTS = (
    "evil.example",
    f"evil.example:{PORT}",
    "127.0.0.1",
    "127.0.0.1:80",
    f"127.0.0.1.evil.example:{PORT}",
    f"localhost.evil.example:{PORT}",
    f"evil@127.0.0.1:{PORT}",
    f"127.0.0.1:{PORT}/x",
    f"192.168.1.9:{PORT}",
    "127.0.0.1:99999",
    "[::1",
    "",
)
STOP = {"do": "stop-heat"}


@pytest.mark.parametrize("host", FOREIGN_HOSTS)
async def test_a_foreign_host_is_turned_away_before_anything_else(host: str) -> None:
    """Promise 37: a page elsewhere whose name was bent to this machine reads and does nothing."""
    the_house = house()
    for path in PATHS:
        assert (await the_house.get(path, host=host)).status == 421
    assert (await the_house.tell(STOP, {"host": host})).status == 421
    assert the_house.commands.taken == []


@pytest.mark.parametrize("host", [HOST, f"localhost:{PORT}", f"LOCALHOST:{PORT}", f"[::1]:{PORT}"])
async def test_this_machines_own_names_are_known(host: str) -> None:
    assert (await house().get("/api/kettles", host=host)).status == 200


def test_on_a_network_addresses_and_given_names_are_known_and_no_other_name() -> None:
    hosts = Hosts(PORT, ("brewhouse.local",), any_address=True)
    assert hosts.knows(f"192.168.1.9:{PORT}")
    assert hosts.knows(f"[fe80::1]:{PORT}")
    assert hosts.knows(f"Brewhouse.local:{PORT}")
    assert not hosts.knows(f"evil.example:{PORT}")


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
    """Promise 38."""
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


async def test_a_big_body_is_refused_whether_it_says_so_or_not() -> None:
    the_house = house()
    big = b"x" * (BODY_BYTES + 1)
    assert (await the_house.tell(big)).status == 413
    assert (await the_house.tell(big, {"content-length": "0"})).status == 413
    assert (await the_house.tell(big, {"content-length": "many"})).status == 413
    assert (
        await the_house.post("/kettles/thimble/tell", {"do": "x" * BODY_BYTES}, {"content-length": "3"})
    ).status == 413
    assert the_house.commands.taken == []


@pytest.mark.parametrize("path", PATHS)
async def test_every_answer_has_the_strict_headers(path: str) -> None:
    if path.endswith("stream"):
        return
    answer = await house().get(path)
    policy = answer.header("content-security-policy")
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert answer.header("x-content-type-options") == "nosniff"
    assert answer.header("referrer-policy") == "same-origin"
    assert "frame-ancestors 'none'" in policy


async def test_no_page_has_script_or_style_inside() -> None:
    the_house = house()
    for path in ("/kettles/thimble", "/kettles/thimble/trace", "/batches"):
        text = (await the_house.get(path)).text
        assert "<style" not in text
        assert " style=" not in text
        assert " on" + "click=" not in text
        assert text.count("<script") == text.count('<script src="/static/')
