"""`demo --bridge KIND` ends well on the wires that it is not on anyway (test_demo), and `find` on a real broker."""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest

from kettlebridge.cli.exits import DONE, FAILED, USAGE
from kettlebridge.cli.main import main
from tests.cli.kettles import example, short_day
from tests.drivers_mqtt.mosquitto import Mosquitto, free_port, mosquitto, needs_mosquitto

pytestmark = [needs_mosquitto, pytest.mark.usefixtures("records_replay")]

LIKE_ANY = "set_tcp_nodelay false"
"""As a broker is that was started without a configuration of its own."""


def demo(folder: Path, *more: str) -> int:
    profile = ("--profile", str(short_day(folder)))
    how = ("--hands-off", "--until-complete", "--speed", "300", "--http", "0")
    return main(["demo", "--kettle", str(example("thimble")), *profile, *how, *more])


@pytest.mark.slow
def test_a_day_completes_over_modbus(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert demo(tmp_path, "--bridge", "modbus") == DONE
    assert "Paused" not in capsys.readouterr().out


@pytest.mark.slow
def test_a_day_completes_over_a_broker_that_delays_as_brokers_do_by_default(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with mosquitto(tmp_path, LIKE_ANY) as broker:
        assert demo(tmp_path, "--bridge", "mqtt", "--broker", f"127.0.0.1:{broker.port}") == DONE
    assert "Paused" not in capsys.readouterr().out


def test_without_a_broker_it_says_what_is_needed_and_how_to_get_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert demo(tmp_path, "--bridge", "mqtt") == USAGE
    said = capsys.readouterr().err
    for words in ("MQTT needs a broker", "mosquitto -p 1883", "apt install mosquitto", "--broker 127.0.0.1:1883"):
        assert words in said


def test_a_broker_that_is_not_there_is_a_failure_with_its_address(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    port = free_port()
    assert demo(tmp_path, "--bridge", "mqtt", "--broker", f"127.0.0.1:{port}") == FAILED
    said = capsys.readouterr().err
    assert f"127.0.0.1:{port}" in said
    assert "See that it runs" in said


def test_find_hears_the_temperatures_at_a_broker_and_writes_a_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with mosquitto(tmp_path) as broker:
        told = asyncio.run(_found_beside_a_node(broker, tmp_path / "found.toml"))
    assert told == DONE
    said = capsys.readouterr().out
    assert f"127.0.0.1:{broker.port}: yard/sensors#/wall/temperature: 21.5" in said
    assert f"127.0.0.1:{broker.port}: old/temperature: 19, said some time before" in said
    assert "humidity" not in said
    text = (tmp_path / "found.toml").read_text(encoding="utf-8")
    assert 'source = "yard/sensors#/wall/temperature"' in text
    assert "old/temperature" not in text, "what was only kept may be long gone"


async def _found_beside_a_node(broker: Mosquitto, path: Path) -> int:
    async def node() -> None:
        while True:
            await broker.say("yard/sensors", '{"wall": {"temperature": 21.5, "humidity": 40}}')
            await broker.say("yard/humidity", "55")
            await asyncio.sleep(0.2)

    await broker.say("old/temperature", "19", "-r")
    telling = asyncio.create_task(node(), name="node")
    how = ["--broker", f"127.0.0.1:{broker.port}", "--listen-s", "1.5", "--port", "/dev/nowhere", "--out", str(path)]
    try:
        return await asyncio.to_thread(main, ["find", *how])
    finally:
        telling.cancel()
        await asyncio.wait({telling})
