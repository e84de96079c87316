"""Promise 37: a page elsewhere whose name was bent to this machine reads nothing and does nothing."""

from __future__ import annotations

import pytest

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
