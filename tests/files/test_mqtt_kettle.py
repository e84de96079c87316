"""Kettle files on MQTT: what is read, and what is refused with its place."""

from __future__ import annotations

from pathlib import Path

import pytest

from kettlebridge.files.mqtt_bridge import MqttBridge
from kettlebridge.model.demand import Output
from kettlebridge.model.ids import ProbeName
from kettlebridge.model.mqtt import Broker, MqttVersion, Place, Tls, Unit
from tests.files.loader import Loader
from tests.files.texts import KETTLE, swapped

BRIDGE = """\
kind = "mqtt"
host = "broker.local"
"""
HEATER = """\
drive = "contactor"
[relay.heater.mqtt]
command = "plug/set"
state = "plug/state"
auto_off_s = 3
rated_a = 16
after_power_cut = "off"
"""
SERIAL = 'kind = "serial_line"\nport = "/dev/ttyACM0"\nboard_id = "28A4"\n'
SOURCE = '"Node/sensors#/Wall/c"'
MQTT = swapped(swapped(swapped(KETTLE, SERIAL, BRIDGE), '"28A1B2C3040506B4"', SOURCE), 'drive = "ssr"\n', HEATER)


def test_file_is_read_with_its_defaults(loader: Loader) -> None:
    file = loader.kettle(MQTT)
    assert isinstance(file.bridge, MqttBridge)
    assert file.bridge.broker == Broker(host="broker.local", port=1883)
    assert file.bridge.client_id == "kettlebridge-tin"
    probe = file.bridge.probes[ProbeName("wall")]
    assert (probe.place, probe.unit) == (Place(topic="Node/sensors", pointer="/Wall/c"), Unit.CELSIUS)
    heater = file.bridge.relays[Output.HEATER]
    assert (heater.on, heater.off, heater.state_on, heater.auto_off_s) == ("ON", "OFF", "ON", 3.0)
    assert file.kettle.probes[0].source == "Node/sensors#/Wall/c", "topics tell capitals apart"


def test_password_and_certificates_lie_beside_the_file_and_the_password_is_never_shown(
    loader: Loader, tmp_path: Path
) -> None:
    (tmp_path / "secret").write_text("hush\nsecond line\n", encoding="utf-8")
    more = 'username = "kettle"\npassword_file = "secret"\ntls = true\nca_file = "ca.pem"\nversion = "5"\n'
    file = loader.kettle(swapped(MQTT, BRIDGE, BRIDGE + more))
    assert isinstance(file.bridge, MqttBridge)
    broker = file.bridge.broker
    assert broker.password == "hush"  # noqa: S105 - the test's own
    assert (broker.version, broker.tls) == (MqttVersion.V5, Tls(ca_file=str(tmp_path / "ca.pem")))
    assert "hush" not in repr(file)


MISTAKES = {
    "no lease": (
        "auto_off_s = 3\n",
        "",
        "relay.heater.mqtt.auto_off_s: missing: a relay without auto-off on the node may drive a pump, never a heater",
    ),
    "lease too long": (
        "auto_off_s = 3\n",
        "auto_off_s = 60\n",
        "relay.heater.mqtt.auto_off_s: 60 is too big: 2 to 30 s",
    ),
    "a word for on and none for off": (
        'state = "plug/state"\n',
        'state = "plug/state"\nstate_on = "true"\n',
        "relay.heater.mqtt.state_off: missing: a word that is neither is not taken for off, so both must be said",
    ),
    "one word for on and off": (
        'state = "plug/state"\n',
        'state = "plug/state"\nstate_on = "true"\nstate_off = "true"\n',
        "relay.heater.mqtt.state_off: is the same as state_on",
    ),
    "no state": (
        'state = "plug/state"\n',
        "",
        "relay.heater.mqtt.state: missing: a relay that heats must say how it stands",
    ),
    "plug too weak": (
        "rated_a = 16",
        "rated_a = 13",
        "relay.heater.mqtt.rated_a: 13 A is too small: 1.25 × 10.9 A = 13.6 A",
    ),
    "plug of unknown rating": (
        "rated_a = 16\n",
        "",
        "relay.heater.mqtt.rated_a: missing: a relay that heats must be known to carry the load",
    ),
    "restores on": (
        'after_power_cut = "off"',
        'after_power_cut = "restore"',
        "relay.heater.mqtt.after_power_cut: set the node up to stay off, then write off here",
    ),
    "wildcard": (
        'command = "plug/set"',
        'command = "plug/+"',
        "relay.heater.mqtt.command: must name one topic: + and # stand for many",
    ),
    "no pointer": (
        SOURCE,
        '"Node/sensors#Wall"',
        "probe.wall.source: after # stands a JSON pointer, which begins with /",
    ),
    "order where the node tells": (
        'command = "plug/set"',
        'command = "plug/state"',
        "relay.heater.mqtt.command: is also a topic that a node tells something on: orders need one of their own",
    ),
    "bursts on a plain plug": (
        'drive = "contactor"',
        'drive = "ssr"',
        'relay.heater.mqtt.on: lacks {percent}: a node that is only on or off has drive = "contactor"',
    ),
    "gravity in the kettle": (
        'role = "control"\n',
        'role = "control"\n[probe.wall.mqtt]\ngravity_sg = "Node/sensors#/sg"\n',
        'probe.wall.mqtt.gravity_sg: only with role = "fermenter"',
    ),
    "tls by halves": (BRIDGE, BRIDGE + 'ca_file = "ca.pem"\n', "bridge.ca_file: only with tls = true"),
    "password without a name": (
        BRIDGE,
        BRIDGE + 'password_file = "secret"\n',
        "bridge.password_file: goes together with username",
    ),
}


@pytest.mark.parametrize("name", MISTAKES)
def test_a_mistake_is_named_with_its_place(loader: Loader, name: str) -> None:
    old, new, told = MISTAKES[name]
    (mistake,) = loader.mistakes(loader.kettle, swapped(MQTT, old, new))
    assert mistake.partition(": ")[2] == told


def test_missing_password_file_is_named(loader: Loader) -> None:
    text = swapped(MQTT, BRIDGE, BRIDGE + 'username = "kettle"\npassword_file = "gone"\n')
    (mistake,) = loader.mistakes(loader.kettle, text)
    assert "bridge.password_file: " in mistake
    assert "cannot be read: No such file or directory" in mistake


def test_pump_may_lack_state_and_auto_off(loader: Loader) -> None:
    file = loader.kettle(MQTT + '[relay.pump]\n[relay.pump.mqtt]\ncommand = "pump/set"\n')
    assert isinstance(file.bridge, MqttBridge)
    assert file.bridge.relays[Output.PUMP].auto_off_s is None
