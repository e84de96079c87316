"""Who gets in, as what, and the rights of each role."""

from __future__ import annotations

import io
import re
import stat
from functools import cache
from pathlib import Path

import pytest

from kettlebridge.cli.main import main
from kettlebridge.model.command import CommandKind
from kettlebridge.model.errors import OperatorError
from kettlebridge.web import access
from kettlebridge.web.keys import KEYS_NAME, Grant, KeyFile, read_keys, token_hash, with_key, without_key, write_keys
from kettlebridge.web.roles import Role
from kettlebridge.web.server import Address, Listener
from tests.web.rooms import SADDLE, THIMBLE, House, house

PHRASES = {
    Role.ALL: "copper and barley",
    Role.WATCHER: "looking only please",
    Role.KETTLE: "the small one is mine",
}
LINK = "a-link-of-many-letters"


@cache
def keys() -> KeyFile:
    made = KeyFile(link=token_hash(LINK))
    for role, phrase in PHRASES.items():
        kettle = THIMBLE if role is Role.KETTLE else None
        made = with_key(made, Grant(who=f"{role.value} one", role=role, kettle=kettle), phrase)
    return made


def guarded() -> House:
    return house(kettles=(THIMBLE, SADDLE), keys=keys())


async def signed_in(the_house: House, role: Role) -> str:
    """Signs in; the house sends the cookie from then on. Gives the token of the session's forms."""
    answer = await the_house.post("/sign-in", {"phrase": PHRASES[role]})
    assert answer.header("location") == "/"
    return await with_cookie(the_house, answer.header("set-cookie"))


async def with_cookie(the_house: House, cookie: str) -> str:
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie
    the_house.headers["cookie"] = cookie.split(";", maxsplit=1)[0]
    page = (await the_house.get("/kettles/thimble")).text
    token = re.search(r'<body[^>]* data-token="([^"]+)"', page)
    assert token
    return token[1]


async def test_without_a_session_there_is_nothing_but_the_sign_in() -> None:
    the_house = guarded()
    for path in ("/", "/kettles/thimble", "/batches"):
        assert (await the_house.get(path)).header("location") == "/sign-in"
    for path in ("/api/kettles", "/api/openapi.json", "/kettles/thimble/stream", "/kettles/thimble/trace"):
        assert (await the_house.get(path)).status in {303, 401}
    assert (await the_house.tell({"do": "stop-heat"})).status == 401
    assert (await the_house.post("/stop-all-heat", {})).status == 401
    assert the_house.commands.taken == []


RIGHTS = [
    (Role.ALL, THIMBLE, "extend", True),
    (Role.ALL, SADDLE, "extend", True),
    (Role.KETTLE, THIMBLE, "extend", True),
    (Role.KETTLE, SADDLE, "extend", False),
    (Role.KETTLE, SADDLE, "stop-heat", True),
    (Role.WATCHER, THIMBLE, "extend", False),
    (Role.WATCHER, THIMBLE, "acknowledge", False),
    (Role.WATCHER, THIMBLE, "stop-heat", True),
]


@pytest.mark.parametrize(("role", "kettle", "do", "goes"), RIGHTS)
async def test_each_role_may_do_its_part_and_all_may_stop_all_heat(
    role: Role, kettle: str, do: str, goes: bool
) -> None:
    the_house = guarded()
    token = await signed_in(the_house, role)
    told = {"do": do} | ({"minutes": 5} if do == "extend" else {})
    answer = await the_house.tell(told, {"x-token": token}, kettle)
    assert answer.status == (200 if goes else 403)
    assert bool(the_house.commands.taken) is goes
    if goes:
        assert the_house.commands.taken[0][1].who == f"{role.value} one"


async def test_a_form_without_the_sessions_token_does_nothing() -> None:
    the_house = guarded()
    token = await signed_in(the_house, Role.ALL)
    for wrong in (None, "", token[:-1]):
        headers = {} if wrong is None else {"x-token": wrong}
        assert (await the_house.tell({"do": "stop-heat"}, headers)).status == 403
        fields = {"do": "stop-heat"} | ({} if wrong is None else {"token": wrong})
        assert (await the_house.post("/kettles/thimble/tell", fields)).status == 403
    assert the_house.commands.taken == []
    assert (await the_house.post("/kettles/thimble/tell", {"do": "stop-heat", "token": token})).status == 303
    assert len(the_house.commands.taken) == 1


async def test_the_view_only_link_shows_and_tells_nothing() -> None:
    the_house = guarded()
    assert (await the_house.get("/view/another")).status == 404
    token = await with_cookie(the_house, (await the_house.get(f"/view/{LINK}")).header("set-cookie"))
    assert "Stop all heat" not in (await the_house.get("/kettles/thimble")).text
    for kind in CommandKind:
        assert (await the_house.tell({"do": kind.value}, {"x-token": token})).status == 403
    await the_house.post("/stop-all-heat", {"token": token})
    assert the_house.commands.taken == []


async def test_whoever_has_the_link_signs_nobody_out_by_coming_again_and_again() -> None:
    the_house = guarded()
    await signed_in(the_house, Role.WATCHER)
    cookie = the_house.headers.pop("cookie")
    comes = [await the_house.get(f"/view/{LINK}") for _ in range(access.SESSIONS + 1)]
    crowd = [answer.header("set-cookie").split(";", maxsplit=1)[0] for answer in comes]
    for newest, status in ((cookie, 200), (crowd[-1], 200), (crowd[0], 303)):
        the_house.headers["cookie"] = newest
        assert (await the_house.get("/kettles/thimble")).status == status


async def test_an_expired_session_in_the_middle_of_a_confirm_is_told_so(monkeypatch: pytest.MonkeyPatch) -> None:
    the_house = guarded()
    monkeypatch.setattr(access, "LASTS_S", 0.0)
    await the_house.post("/sign-in", {"phrase": PHRASES[Role.ALL]})
    assert (await the_house.tell({"do": "confirm"})).status == 401
    confirmed = await the_house.post("/kettles/thimble/tell", {"do": "confirm"})
    assert confirmed.header("location") == "/sign-in?back=/kettles/thimble&answer=signed_out"
    assert "Not taken: this session is over." in (await the_house.get(confirmed.header("location"))).text
    assert the_house.commands.taken == []


async def test_signing_out_ends_the_session() -> None:
    the_house = guarded()
    token = await signed_in(the_house, Role.ALL)
    assert (await the_house.post("/sign-out", {"token": token})).header("location") == "/sign-in"
    assert (await the_house.get("/")).header("location") == "/sign-in"


def test_keys_are_kept_as_hashes_for_the_owner_alone(tmp_path: Path) -> None:
    write_keys(tmp_path / "state", keys())
    path = tmp_path / "state" / KEYS_NAME
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert not any(phrase in path.read_text() for phrase in (*PHRASES.values(), LINK))
    assert read_keys(tmp_path / "state") == keys()
    assert read_keys(tmp_path) == KeyFile()
    path.write_text("{")
    with pytest.raises(OperatorError, match="cannot be used"):
        read_keys(tmp_path / "state")


def test_phrases_are_long_and_each_ones_own() -> None:
    with pytest.raises(OperatorError, match="at least 10"):
        with_key(KeyFile(), Grant(who="a", role=Role.ALL), "short")
    with pytest.raises(OperatorError, match="somebody else's"):
        with_key(keys(), Grant(who="b", role=Role.ALL), PHRASES[Role.WATCHER])
    with pytest.raises(OperatorError, match="has no pass-phrase"):
        without_key(keys(), "nobody")


def test_a_network_sees_no_page_before_a_pass_phrase_is_set(tmp_path: Path) -> None:
    with pytest.raises(OperatorError, match="set a pass-phrase first"):
        Listener(Address(host="0.0.0.0", port=0), tmp_path)  # noqa: S104 - that is what is refused
    write_keys(tmp_path, keys())
    listener = Listener(Address(host="0.0.0.0", port=0), tmp_path)  # noqa: S104
    listener.close()


def test_the_command_sets_removes_and_makes_links(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    state = ["--state", str(tmp_path)]
    monkeypatch.setattr("sys.stdin", io.StringIO("barley and copper\n"))
    assert main(["passphrase", "--who", "Ilka", "--role", "kettle", "--kettle", "thimble", *state]) == 0
    (key,) = read_keys(tmp_path).keys
    assert (key.who, key.role, key.kettle) == ("Ilka", Role.KETTLE, "thimble")
    assert main(["passphrase", "--view-link", "http://brewhouse.local:8470/", *state]) == 0
    link = re.search(r"http://brewhouse.local:8470/view/(\S+)", capsys.readouterr().out)
    assert link
    assert read_keys(tmp_path).link == token_hash(link[1])
    assert main(["passphrase", "--who", "Ilka", "--remove", *state]) == 0
    assert read_keys(tmp_path) == KeyFile()
    assert main(["passphrase", "--role", "kettle", *state]) == 2
    assert main(["passphrase", "--view-link", "http://x", *state]) == 2
