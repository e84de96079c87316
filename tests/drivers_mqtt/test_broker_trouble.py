"""A broker that refuses or never answers: in real time, with a mosquitto of the tests' own."""

from __future__ import annotations

import gc
import socket
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest

from kettlebridge.drivers.mqtt import MqttNodes
from kettlebridge.model.errors import LinkError, LinkReason
from kettlebridge.model.mqtt import Broker, MqttVersion, Tls
from kettlebridge.runtime.clock import RealClock
from tests.drivers_mqtt.bench import Heard, settings
from tests.drivers_mqtt.mosquitto import mosquitto, needs_mosquitto

pytestmark = [needs_mosquitto, pytest.mark.process, pytest.mark.slow]


async def refused_by(broker: Broker) -> LinkError:
    with pytest.raises(LinkError) as caught:
        await MqttNodes(replace(settings(), broker=broker), RealClock()).run(Heard())
    return caught.value


@pytest.fixture
def passwords(tmp_path: Path) -> Path:
    path = tmp_path / "passwords"
    subprocess.run(["mosquitto_passwd", "-b", "-c", str(path), "brewer", "right"], check=True)
    return path


async def test_wrong_password_is_a_clear_line(tmp_path: Path, passwords: Path) -> None:
    with mosquitto(tmp_path, "allow_anonymous false", f"password_file {passwords}") as broker:
        for version in MqttVersion:
            at = Broker(
                host="127.0.0.1",
                port=broker.port,
                version=version,
                username="brewer",
                password="wrong",  # noqa: S106
            )
            error = await refused_by(at)
            assert error.reason is LinkReason.NOT_ADMITTED
            assert "not auth" in str(error).lower() or "bad user" in str(error).lower()
            assert "wrong" not in str(error)


async def test_broker_that_accepts_and_never_answers_is_given_up() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        error = await refused_by(Broker(host="127.0.0.1", port=server.getsockname()[1]))
    assert error.reason is LinkReason.NO_BROKER
    assert "accepts the connection and does not answer" in str(error)


def openssl(*words: str) -> None:
    """One run of the openssl program."""
    subprocess.run(["openssl", *words], check=True, capture_output=True)


def certificate(folder: Path, days: int) -> tuple[Path, Path]:
    """Self-signed for 127.0.0.1; one of -1 days has expired."""
    key, request, cert, names = (folder / f"broker.{end}" for end in ("key", "csr", "pem", "names"))
    names.write_text("subjectAltName=IP:127.0.0.1\n", encoding="ascii")
    openssl("ecparam", "-name", "prime256v1", "-genkey", "-noout", "-out", str(key))
    openssl("req", "-new", "-key", str(key), "-subj", "/CN=127.0.0.1", "-out", str(request))
    signed = ("-signkey", str(key), "-days", str(days), "-extfile", str(names), "-out", str(cert))
    openssl("x509", "-req", "-in", str(request), *signed)
    return key, cert


def tls_broker(folder: Path, days: int) -> tuple[tuple[str, ...], Path]:
    key, cert = certificate(folder, days)
    return (f"certfile {cert}", f"keyfile {key}"), cert


async def test_good_certificate_lets_the_service_in(tmp_path: Path) -> None:
    lines, cert = tls_broker(tmp_path, days=2)
    with mosquitto(tmp_path, *lines) as broker:
        error = await refused_by(Broker(host="127.0.0.1", port=broker.port, tls=Tls(ca_file=str(cert))))
    assert error.reason is LinkReason.NODE_AWAY, "it was let in, and there was nobody"


@pytest.mark.parametrize(("days", "trusted", "said"), [(-1, True, "expired"), (2, False, "self-signed")])
async def test_bad_certificate_is_a_clear_line(tmp_path: Path, days: int, trusted: bool, said: str) -> None:
    lines, cert = tls_broker(tmp_path, days=days)
    with mosquitto(tmp_path, *lines) as broker:
        at = Broker(host="127.0.0.1", port=broker.port, tls=Tls(ca_file=str(cert) if trusted else None))
        error = await refused_by(at)
    gc.collect()  # a socket left open would warn here, and a warning fails
    assert error.reason is LinkReason.NOT_ADMITTED
    assert said in str(error)
