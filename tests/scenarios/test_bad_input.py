"""What is wrong at a bridge is one clear line, leaves the batch paused with the heat off, and can be mended.

Troubles of the leading probe while it heats; and bridges that cannot be had at all, as a person is told of them.
"""

from __future__ import annotations

import logging
import socket
import subprocess
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from kettlebridge.app import Assignment, Service, Setting, run_service
from kettlebridge.bridges import bridge_to_simulated
from kettlebridge.documents.sentences import standing
from kettlebridge.files.kettle_file import KettleFile
from kettlebridge.files.local_time import zone_time
from kettlebridge.files.modbus_bridge import ModbusBridge
from kettlebridge.files.mqtt_bridge import MqttBridge
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.errors import LinkReason
from kettlebridge.model.mqtt import Broker
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.runtime.clock import PacedClock, run_paced
from kettlebridge.simulated.modbus import PROBES_UNIT, over_modbus
from kettlebridge.simulated.nodes import over_mqtt
from kettlesim.wire_modbus.line import ModbusLine
from kettlesim.wire_modbus.module import BAD_ADDRESS
from kettlesim.wire_mqtt.network import Nodes
from kettlesim.wire_mqtt.radio import Damage, Radio
from tests.drivers_mqtt.mosquitto import Mosquitto, free_port, mosquitto, needs_mosquitto
from tests.scenarios.paced_day import RINSE, START_UTC_S, Day, Vessel, example
from tests.scenarios.spoilt_wires import on_modules, on_nodes

WITHIN_S = 6.0
"""Five seconds, and the tick at which it is seen."""

LASTS_S = 60.0
PAUSED = (BatchState.HOLDING, BatchState.HELD)

pytestmark = [pytest.mark.slow, needs_mosquitto]


class Trouble:
    """Comes when it heats for the first time, and is mended a minute later."""

    def __init__(self, comes: Callable[[], None], goes: Callable[[], None]) -> None:
        self.came_s: float | None = None
        self.paused_s: float | None = None
        self.cold_s: float | None = None
        self._comes, self._goes = comes, goes
        self._is_there = False

    def look(self, _name: str, snapshot: Snapshot) -> None:
        """Once for each snapshot."""
        now_s, heats = snapshot.now_s, bool(snapshot.outputs.board_heater_permille)
        if self.came_s is None:
            if heats:
                self.came_s, self._is_there = now_s, True
                self._comes()
            return
        if self.paused_s is None and snapshot.state in PAUSED:
            self.paused_s = now_s
        if self.paused_s is not None and self.cold_s is None and not heats:
            self.cold_s = now_s
        if self._is_there and now_s > self.came_s + LASTS_S:
            self._is_there = False
            self._goes()


@pytest.fixture
def broker(tmp_path: Path) -> Mosquitto:
    return Mosquitto(tmp_path)


def lived(day: Day, trouble: Trouble) -> None:
    """The day, in which the trouble leaves it paused and cold, and after which it completes."""
    day.watch = trouble.look
    run_paced(day.live, start_utc_s=START_UTC_S)
    assert trouble.came_s is not None
    assert trouble.paused_s is not None
    assert trouble.cold_s is not None
    assert trouble.cold_s - trouble.came_s <= WITHIN_S
    assert day.seen["thimble"].state is BatchState.COMPLETE


@pytest.mark.parametrize("how", ["no number", "silent"])
def test_a_leading_probe_on_mqtt_that_tells_no_temperature_pauses_the_day(
    tmp_path: Path, caplog: pytest.LogCaptureFixture, how: str
) -> None:
    made: list[Nodes] = []

    def comes() -> None:
        probes = made[0].nodes[-1]
        if how == "silent":
            probes.deaf = True
        else:
            probes.probe_text["wall"] = "unavailable"

    def goes() -> None:
        probes = made[0].nodes[-1]
        probes.deaf = False
        probes.probe_text.clear()

    caplog.set_level(logging.INFO, "kettlebridge")
    with mosquitto(tmp_path) as broker:
        file = over_mqtt(example("thimble", "quillet_bitter").file, Broker(host="127.0.0.1", port=broker.port))
        day = Day({"thimble": Vessel(file=file, profile=RINSE)}, tmp_path / "state")
        day.wired = on_nodes(Radio(Damage(), seed=1), made)
        lived(day, Trouble(comes, goes))
    said = [line for line in caplog.messages if line.startswith("probe wall")]
    assert isinstance(file.bridge, MqttBridge)
    topic = next(iter(file.bridge.probes.values())).place.topic
    words = f"{topic}#/wall/temperature_c holds no number: " if how == "no number" else f"nothing on {topic} for "
    assert said[0].startswith(f"probe wall: {words}")
    assert said[-1] == "probe wall tells again"


@pytest.mark.parametrize(("how", "said"), [("silent", "does not answer"), ("refuses", "refuses with exception 2")])
def test_a_leading_probe_on_modbus_that_gives_no_temperature_pauses_the_day(
    tmp_path: Path, caplog: pytest.LogCaptureFixture, how: str, said: str
) -> None:
    """As with a wrong unit number, or a wrong address."""
    made: list[ModbusLine] = []

    def comes() -> None:
        module = made[0].modules[PROBES_UNIT]
        module.silent, module.refuses = how == "silent", BAD_ADDRESS if how == "refuses" else None

    def goes() -> None:
        module = made[0].modules[PROBES_UNIT]
        module.silent, module.refuses = False, None

    caplog.set_level(logging.INFO, "kettlebridge")
    file = over_modbus(example("thimble", "quillet_bitter").file)
    day = Day({"thimble": Vessel(file=file, profile=RINSE)}, tmp_path / "state")
    day.wired = on_modules(made)
    lived(day, Trouble(comes, goes))
    lines = [line for line in caplog.messages if said in line]
    assert len(lines) == 1
    assert "wall" in lines[0]
    assert f"unit {PROBES_UNIT}" in lines[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Unlinked:
    """A bridge that cannot be had: how a person is told, and of what."""

    reason: LinkReason
    said: str
    mended: str


def told_of(file: KettleFile, folder: Path) -> tuple[Snapshot, str]:
    """What a service with that file says once its bridge was tried."""
    profile = example("thimble", "quillet_bitter").profile

    async def main(clock: PacedClock) -> Snapshot:
        async def body(service: Service) -> Snapshot:
            async for snapshot in service.snapshots.stream(file.kettle.name):
                if snapshot.boards:
                    return snapshot
            raise AssertionError("the stream goes on")

        setting = Setting(clock=clock, folder=folder, time=zone_time("UTC"), bridges=bridge_to_simulated)
        return await run_service([Assignment(file=file, profile=profile)], setting, body)

    snapshot = run_paced(main, start_utc_s=START_UTC_S)
    return snapshot, " ".join(standing(snapshot))


def is_told(file: KettleFile, folder: Path, want: Unlinked) -> None:
    """Nothing is on, and the line says what, where and how to mend it."""
    snapshot, said = told_of(file, folder)
    (board,) = snapshot.boards
    assert (board.linked, board.trouble) == (False, want.reason)
    assert want.said in said
    assert want.mended in said
    assert not snapshot.linked
    assert snapshot.outputs.board_heater_permille is None
    assert snapshot.state is BatchState.IDLE


def on_broker(port: int, **changes: str) -> KettleFile:
    """The example kettle at that broker."""
    broker = replace(Broker(host="127.0.0.1", port=port), **changes)  # type: ignore[arg-type]
    return over_mqtt(example("thimble", "quillet_bitter").file, broker)


def test_no_broker(tmp_path: Path) -> None:
    port = free_port()
    want = Unlinked(reason=LinkReason.NO_BROKER, said=f"127.0.0.1:{port}", mended="See that it runs")
    is_told(on_broker(port), tmp_path / "state", want)


def test_a_broker_that_accepts_and_never_answers(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        want = Unlinked(reason=LinkReason.NO_BROKER, said="does not answer", mended="host and port name it")
        is_told(on_broker(server.getsockname()[1]), tmp_path / "state", want)


def test_a_wrong_password(tmp_path: Path) -> None:
    path = tmp_path / "passwords"
    subprocess.run(["mosquitto_passwd", "-b", "-c", str(path), "brewer", "right"], check=True)
    with mosquitto(tmp_path, "allow_anonymous false", f"password_file {path}") as broker:
        want = Unlinked(reason=LinkReason.NOT_ADMITTED, said="refuses", mended="Look at user name, password")
        is_told(on_broker(broker.port, username="brewer", password="wrong"), tmp_path / "state", want)  # noqa: S106


def test_nodes_that_are_not_there(tmp_path: Path) -> None:
    with mosquitto(tmp_path) as broker:
        want = Unlinked(reason=LinkReason.NODE_AWAY, said="relay.heater: its node", mended="Look at its power")
        is_told(on_broker(broker.port), tmp_path / "state", want)


def test_a_modbus_port_that_is_not_there(tmp_path: Path) -> None:
    file = over_modbus(example("thimble", "quillet_bitter").file)
    assert isinstance(file.bridge, ModbusBridge)
    file = replace(file, bridge=replace(file.bridge, port=str(tmp_path / "nowhere")))
    want = Unlinked(
        reason=LinkReason.NO_PORT, said=str(tmp_path / "nowhere"), mended="See that the board is plugged in"
    )
    is_told(file, tmp_path / "state", want)
