"""The page over TLS: a certificate and its key, or none at all."""

from __future__ import annotations

import asyncio
import re
import ssl
import subprocess
import urllib.request
from pathlib import Path

import pytest

from kettlebridge.cli.main import main
from kettlebridge.files.examples import config_folder
from kettlebridge.model.errors import OperatorError
from kettlebridge.runtime.fan_out import FanOut
from kettlebridge.web.keys import write_keys
from kettlebridge.web.roles import Role
from kettlebridge.web.server import Address, Certificate, Listener, serve_page
from tests.web.rooms import KeptCommands, surroundings
from tests.web.test_access import PHRASES, keys


def certificate(folder: Path) -> Certificate:
    """Self-signed, for 127.0.0.1."""
    made = Certificate(chain=folder / "chain.pem", key=folder / "key.pem")
    words = ("req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes", "-days", "2")
    names = ("-subj", "/CN=127.0.0.1", "-addext", "subjectAltName=IP:127.0.0.1")
    files = ("-out", str(made.chain), "-keyout", str(made.key))
    subprocess.run(["openssl", *words, *names, *files], check=True, capture_output=True)
    return made


async def test_the_page_is_served_over_tls_and_its_cookie_stays_on_it(tmp_path: Path) -> None:
    write_keys(tmp_path, keys())
    made, stop = certificate(tmp_path), asyncio.Event()
    listener = Listener(Address(port=0, certificate=made), tmp_path)
    assert listener.url == f"https://127.0.0.1:{listener.port}/"
    serving = asyncio.create_task(serve_page(listener, surroundings(KeptCommands(), FanOut()), stop))

    def sign_in() -> tuple[str, str]:
        trusted = ssl.create_default_context(cafile=made.chain)
        handlers = urllib.request.HTTPSHandler(context=trusted), NoRedirects()
        opened = urllib.request.build_opener(*handlers)
        page = opened.open(f"{listener.url}sign-in", timeout=10.0).read().decode()
        try:
            opened.open(f"{listener.url}sign-in", f"phrase={PHRASES[Role.ALL]}".encode(), timeout=10.0)
        except urllib.request.HTTPError as answer:
            with answer:
                return page, str(answer.headers["set-cookie"])
        raise AssertionError("signing in leads elsewhere")

    try:
        page, cookie = await asyncio.to_thread(sign_in)
    finally:
        stop.set()
        await serving
        listener.close()
    assert "Over plain HTTP" not in page
    assert re.search(r"; Secure\b", cookie)


class NoRedirects(urllib.request.HTTPRedirectHandler):
    """Answers that lead elsewhere are looked at, not followed."""

    def redirect_request(self, *_args: object) -> None:
        return None


def test_a_certificate_that_cannot_be_used_is_told_at_the_start(tmp_path: Path) -> None:
    made = certificate(tmp_path)
    for broken in (
        Certificate(chain=tmp_path / "none.pem", key=made.key),
        Certificate(chain=made.chain, key=made.chain),
    ):
        with pytest.raises(OperatorError, match="no certificate with its key"):
            Listener(Address(port=0, certificate=broken), tmp_path)


def test_a_certificate_without_its_key_is_a_mistake_of_the_command(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["serve", str(config_folder() / "kettles" / "thimble.toml"), "--http-cert", "chain.pem"]) == 2
    assert "belong together" in capsys.readouterr().err


def test_on_a_network_the_address_to_type_is_a_name_or_a_number_that_others_can_reach(tmp_path: Path) -> None:
    write_keys(tmp_path, keys())
    for names, host in ((("brewhouse.local",), r"brewhouse\.local"), ((), r"(?!0\.0)\d+\.\d+\.\d+\.\d+")):
        listener = Listener(Address(host="0.0.0.0", port=0, names=names), tmp_path)  # noqa: S104
        listener.close()
        assert re.fullmatch(rf"http://{host}:{listener.port}/", listener.url)
