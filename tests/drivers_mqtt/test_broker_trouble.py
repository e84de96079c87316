"""A broker that stops, freezes, comes back, refuses or never answers: in real time, with a mosquitto of the tests' own.

Promise 31: broker lost, frozen, back. The nodes' auto-off ends the heat, nothing is sent twice, the link comes back.
"""

from __future__ import annotations

import asyncio
import gc
import socket
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest

from kettlebridge.drivers.mqtt import MqttNodes
from kettlebridge.model.demand import Output
from kettlebridge.model.errors import LinkError, LinkReason
from kettlebridge.model.mqtt import Broker, MqttVersion, Tls
from kettlebridge.runtime.clock import RealClock
from tests.drivers_mqtt.bench import AUTO_OFF_S, Bench, Heard, in_real_time, settings
from tests.drivers_mqtt.mosquitto import Mosquitto, mosquitto, needs_mosquitto

pytestmark = [needs_mosquitto, pytest.mark.process, pytest.mark.slow]

SLACK_S = 1.5


async def heating(on: Bench) -> None:
    """In a session, with the heater on."""
    on.start()
    await on.linked()
    on.ticker.wants = (1000, False, True)
    await on.wait(2.0)
    assert on.on(Output.HEATER)


async def comes_back(on: Bench) -> None:
    """A new session over the same link, as the keeper makes it: again and again."""
    links = on.heard.links
    on.heard.reports.clear()
    on.ticker.wants = (0, False, False)
    async with asyncio.timeout(30.0):
        while on.heard.links == links:
            on.session = on.beside(on.link.run(on.heard), "again")
            joined = on.beside(on.heard.until(lambda: on.heard.links > links), "joined")
            await asyncio.wait({on.session, joined}, return_when=asyncio.FIRST_COMPLETED)
            await asyncio.sleep(0.3)


async def stays_off(on: Bench, for_s: float) -> None:
    """Looks again and again."""
    end_s = on.clock.now_s() + for_s
    while on.clock.now_s() < end_s:
        assert not on.on(Output.HEATER)
        await on.wait(0.05)


@pytest.mark.parametrize("version", list(MqttVersion))
def test_broker_that_stops_ends_the_session_at_once_and_the_heat_by_auto_off(
    broker: Mosquitto, version: MqttVersion
) -> None:
    async def body(on: Bench) -> None:
        await heating(on)
        begun_s = on.clock.now_s()
        on.broker.stop()
        error = await on.ended()
        assert isinstance(error, LinkError)
        assert error.reason is LinkReason.LOST
        assert on.clock.now_s() - begun_s < SLACK_S
        await on.wait(begun_s + AUTO_OFF_S + 0.1 - on.clock.now_s())
        assert not on.on(Output.HEATER)
        on.broker.start()
        await comes_back(on)
        await stays_off(on, 1.5)

    at = Broker(host="127.0.0.1", port=broker.port, version=version)
    in_real_time(broker, body, broker=at, require_simulated=False)


def test_frozen_broker_ends_the_session_within_the_silence_and_what_it_held_heats_nothing(broker: Mosquitto) -> None:
    async def body(on: Bench) -> None:
        await heating(on)
        begun_s = on.clock.now_s()
        on.broker.freeze()
        error = await on.ended()
        assert isinstance(error, LinkError)
        assert error.reason is LinkReason.LOST
        assert on.clock.now_s() - begun_s < 3.0 + SLACK_S
        await on.wait(begun_s + AUTO_OFF_S + 1.0 - on.clock.now_s())
        assert not on.on(Output.HEATER)
        thawed_s = on.clock.now_s()
        on.broker.thaw()
        on_since_s = None
        while on.clock.now_s() < thawed_s + 3.0:  # one "on" may have been under way, with an "off" right behind it
            if on.on(Output.HEATER):
                on_since_s = on.clock.now_s() if on_since_s is None else on_since_s
                assert on.clock.now_s() - on_since_s < 0.2
            await on.wait(0.01)
        await comes_back(on)
        await stays_off(on, 1.5)

    in_real_time(broker, body)


def test_service_that_vanishes_is_followed_by_its_last_will(broker: Mosquitto) -> None:
    async def body(on: Bench) -> None:
        on.beside(_heard_on(broker, "heater/set", heard := asyncio.Event()), "listener")
        process = await asyncio.create_subprocess_exec(
            "mosquitto_sub",
            *("-h", "127.0.0.1", "-p", str(broker.port), "-t", "nothing"),
            *("--will-topic", "heater/set", "--will-payload", "OFF"),
        )
        await on.wait(0.5)
        process.kill()
        await process.wait()
        async with asyncio.timeout(5.0):
            await heard.wait()

    in_real_time(broker, body)


async def _heard_on(broker: Mosquitto, topic: str, heard: asyncio.Event) -> None:
    process = await asyncio.create_subprocess_exec(
        "mosquitto_sub",
        "-h",
        "127.0.0.1",
        "-p",
        str(broker.port),
        "-C",
        "1",
        "-t",
        topic,
        stdout=asyncio.subprocess.PIPE,
    )
    try:
        await process.wait()
        heard.set()
    finally:
        if process.returncode is None:
            process.kill()
            await process.wait()


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
