"""`find` against virtual boards and modules in real time, and the kettle file it makes of them."""

from __future__ import annotations

import argparse
import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from pathlib import Path

import pytest

from kettlebridge.cli import find
from kettlebridge.cli.exits import FAILED
from kettlebridge.cli.found_file import Found, file_text
from kettlebridge.cli.main import main
from kettlebridge.drivers.mqtt.finding import FoundTopic, temperatures_in
from kettlebridge.files.kettle_file import SerialLineBridge, load_kettle
from kettlebridge.files.modbus_bridge import ModbusBridge
from kettlebridge.files.mqtt_bridge import MqttBridge
from kettlebridge.model.errors import FileError, UsageError
from kettlebridge.model.ids import ProbeName
from kettlebridge.model.kettle import ProbeRole
from kettlebridge.model.modbus_map import Area, Encoding
from kettlebridge.model.mqtt import Broker, Message, Place
from kettlebridge.runtime.clock import RealClock
from kettlesim.wire_serial.line import SerialBoard, board_in
from kettlesim.world import AddWater, Body, World
from tests.drivers_modbus.room import Room, running

GUARD_S = 30.0
BROKER = Broker(host="broker.home", port=1883)


def told(*arguments: str) -> argparse.Namespace:
    parser = argparse.ArgumentParser()
    find.add_arguments(parser)
    return parser.parse_args(arguments)


@asynccontextmanager
async def serial_board() -> AsyncIterator[str]:
    """The port of a board with two probes."""
    world = World(Body.from_figures(capacity_l=25, heater_w=2500), seed=1)
    world.act(AddWater(10.0, 15.0))
    board = SerialBoard(RealClock(), world, board_in(world))
    running_board = asyncio.create_task(board.run(), name="board")
    try:
        yield board.port
    finally:
        running_board.cancel()
        with suppress(asyncio.CancelledError):
            await running_board


async def test_a_board_of_the_line_protocol_makes_a_whole_kettle_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    async with asyncio.timeout(GUARD_S), serial_board() as port:
        found = await find._look(told("--port", port), range(1, 2), RealClock())
    assert f"{port}: board 28A4, 2 probes" in capsys.readouterr().out
    path = tmp_path / "found.toml"
    path.write_text(file_text(found))
    file = load_kettle(path)
    assert file.bridge == SerialLineBridge(port=port, board_id="28A4")
    assert [(probe.source, probe.role) for probe in file.kettle.probes] == [
        ("28A1B2C3040506B4", ProbeRole.CONTROL),
        ("28D4E5F6070809E6", ProbeRole.RETURN),
    ]


async def test_modbus_modules_are_found_and_what_no_scan_can_know_is_left_to_the_reader(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    async with asyncio.timeout(GUARD_S), running(Room(RealClock())) as room:
        port = room.modules.port
        found = await find._look(told("--port", port, "--modbus", "--baud", "9600"), range(1, 4), RealClock())
        assert not any(relay.is_on for relay in room.modules.relays)
    said = capsys.readouterr().out
    assert "at 9600 baud, parity none: unit 1, 1" in said
    assert "unit 2, no temperature, coils: 3, discrete inputs: 1" in said
    path = tmp_path / "found.toml"
    path.write_text(file_text(found))
    with pytest.raises(FileError) as refused:
        load_kettle(path)
    assert [mistake.key for mistake in refused.value.mistakes] == ["relay"]
    lease = 'timed_on = "2/coils/512"\nstep_ms = 100\n'
    path.write_text(
        file_text(found) + f'[relay.heater]\ndrive = "contactor"\n[relay.heater.modbus]\nplace = "2/coils/0"\n{lease}'
    )
    file = load_kettle(path)
    assert isinstance(file.bridge, ModbusBridge)
    place = file.bridge.map.probes[ProbeName("probe_1")]
    assert (place.unit, place.area, place.encoding, place.scale) == (1, Area.INPUT_REGISTERS, Encoding.INT16, 0.1)


def test_several_finds_are_one_file_with_further_bridges(tmp_path: Path) -> None:
    topics = (FoundTopic(place=Place.of("yard/node#/temperature"), value=8.5, retained=False),)
    found = Found(topics=[(BROKER, topics), (BROKER, topics)])
    path = tmp_path / "found.toml"
    path.write_text(file_text(found) + '[relay.heater]\ndrive = "contactor"\n')
    with pytest.raises(FileError) as refused:
        load_kettle(path)
    assert {mistake.key for mistake in refused.value.mistakes} == {"relay.heater.mqtt"}
    text = file_text(found)
    assert '[also.mqtt_2]\nkind = "mqtt"' in text
    assert 'bridge = "mqtt_2"\nsource = "yard/node#/temperature"   # said 8.5' in text


def test_a_broker_s_probes_are_loaded_as_found(tmp_path: Path) -> None:
    topics = (FoundTopic(place=Place.of("yard/temperature"), value=8.5, retained=False),)
    heater = (
        '[relay.heater]\ndrive = "contactor"\n[relay.heater.mqtt]\ncommand = "h/set"\nstate = "h/state"\n'
        'auto_off_s = 3\nrated_a = 16\nafter_power_cut = "off"\n'
    )
    path = tmp_path / "found.toml"
    path.write_text(file_text(Found(topics=[(BROKER, topics)])) + heater)
    file = load_kettle(path)
    assert isinstance(file.bridge, MqttBridge)
    assert file.kettle.probes[0].source == "yard/temperature"


@pytest.mark.parametrize(
    ("topic", "payload", "places"),
    [
        ("yard/temperature", b"8.5", {"yard/temperature": 8.5}),
        ("yard/humidity", b"80", {}),
        ("node/state", b'{"temperature": 21.5, "battery": 97}', {"node/state#/temperature": 21.5}),
        ("node/state", b'{"a": {"temp~c/in": 66}}', {"node/state#/a/temp~0c~1in": 66.0}),
        ("yard/temperature", b"online", {}),
        ("yard/temperature", b"true", {}),
        ("yard/temperature", b"NaN", {}),
        ("yard/temperature", b"99999", {}),
        ("yard/temperature", b"[" * 2000, {}),
        ("yard/temperature", b"\xff\xfe", {}),
    ],
)
def test_a_topic_is_a_temperature_when_it_says_so_and_holds_a_number(
    topic: str, payload: bytes, places: dict[str, float]
) -> None:
    found = temperatures_in(Message(topic=topic, payload=payload))
    assert {str(one.place): one.value for one in found} == places


async def test_a_port_that_cannot_be_opened_is_told_and_passed_by(capsys: pytest.CaptureFixture[str]) -> None:
    async with asyncio.timeout(GUARD_S):
        assert not await find._look(told("--port", "/dev/nowhere"), range(1, 2), RealClock())
    assert capsys.readouterr().out == "/dev/nowhere: /dev/nowhere is not there\n"


def test_nothing_found_is_a_failure(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["find", "--port", "/dev/nowhere"]) == FAILED
    assert "Nothing was found" in capsys.readouterr().out


def test_units_backwards_are_told_as_that() -> None:
    with pytest.raises(UsageError, match="from the lower one to the higher"):
        find._units("300-2")


@pytest.mark.parametrize("text", ["", "a", "0-5", "5-1", "1-300", "1-2-3"])
def test_units_that_make_no_sense_are_refused(text: str) -> None:
    with pytest.raises(UsageError):
        find._units(text)


def test_a_file_that_is_there_is_not_overwritten(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text("mine")
    with pytest.raises(UsageError, match="is there already"):
        find.run(told("--out", str(tmp_path / "mine.toml")))
