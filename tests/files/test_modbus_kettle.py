"""Kettle files on Modbus, and with several bridges: what they come to, and every mistake with its line."""

from __future__ import annotations

import pytest

from kettlebridge.files.examples import config_folder
from kettlebridge.files.kettle_file import SerialLineBridge, load_kettle
from kettlebridge.files.modbus_bridge import ModbusBridge
from kettlebridge.files.mqtt_bridge import MqttBridge
from kettlebridge.model.demand import Output
from kettlebridge.model.ids import ProbeName
from kettlebridge.model.modbus_map import (
    Area,
    BitPlace,
    Encoding,
    Parity,
    RegisterPlace,
    RelayPlace,
    TimedOn,
    WordOrder,
)
from kettlebridge.model.reading import BoardInput
from tests.files.loader import Loader
from tests.files.texts import swapped

LOCKHOUSE = (config_folder() / "kettles" / "lockhouse.toml").read_text(encoding="utf-8")

MIXED = """\
schema = 1

[kettle]
name = "mixed"
capacity_l = 30
heater_w = 2800
mains_v = 230
altitude_m = 25
element_cover_l = 4.0
under_basket_l = 4.6
boil_off_l_per_h = 3.0
dead_space_l = 0.7
basket_kg = 1.6
chill = "in_kettle"

[bridge]
kind = "serial_line"
port = "/dev/ttyACM0"
board_id = "28A4"

[also.rail]
kind = "modbus"
port = "/dev/ttyUSB0"

[also.wifi]
kind = "mqtt"
host = "broker.home"

[probe.wall]
source = "285E3D910700005F"
role = "same_place"

[probe.sleeve]
bridge = "rail"
source = "1/holding_registers/4"
role = "control"

[probe.sleeve.modbus]
encoding = "float32"
word_order = "low_first"

[probe.yard]
bridge = "wifi"
source = "yard/temperature"
role = "ambient"

[relay.heater]
drive = "ssr"

[relay.main_contactor]

[relay.pump]
bridge = "rail"

[relay.pump.modbus]
place = "2/holding_registers/3"
on = 256
off = 512

[input.foam]
role = "foam"
"""


def test_the_example_comes_to_what_it_says() -> None:
    file = load_kettle(config_folder() / "kettles" / "lockhouse.toml")
    assert isinstance(file.bridge, ModbusBridge)
    wired = file.bridge.map
    assert (wired.baud, wired.parity, wired.stop_bits) == (19200, Parity.EVEN, 1)
    assert wired.probes[ProbeName("sleeve")] == RegisterPlace(
        unit=1, area=Area.INPUT_REGISTERS, address=0, scale=0.1, open_codes=(32767,)
    )
    assert wired.relays[Output.HEATER] == RelayPlace(
        unit=2, area=Area.COILS, address=0, timed_on=TimedOn(area=Area.COILS, address=512, step_ms=100)
    )
    assert wired.relays[Output.PUMP].timed_on is None
    assert wired.inputs[BoardInput.STOP] == BitPlace(unit=2, area=Area.DISCRETE_INPUTS, address=1, inverted=True)


def test_each_bridge_has_what_hangs_on_it(loader: Loader) -> None:
    file = loader.kettle(MIXED)
    main, rail, wifi = file.boards
    assert isinstance(main.bridge, SerialLineBridge)
    assert (main.outputs, main.inputs) == ((Output.HEATER, Output.MAIN_CONTACTOR), BoardInput.FOAM)
    assert [probe.name for probe in main.probes] == ["wall"]
    assert isinstance(rail.bridge, ModbusBridge)
    assert rail.outputs == (Output.PUMP,)
    place = rail.bridge.map.probes[ProbeName("sleeve")]
    assert (place.encoding, place.word_order) == (Encoding.FLOAT32, WordOrder.LOW_FIRST)
    assert (rail.bridge.map.relays[Output.PUMP].on, rail.bridge.map.relays[Output.PUMP].off) == (256, 512)
    assert isinstance(wifi.bridge, MqttBridge)
    assert (wifi.outputs, wifi.inputs, [probe.name for probe in wifi.probes]) == ((), BoardInput.NONE, ["yard"])


MISTAKES: dict[str, tuple[str, str, str]] = {
    "heater without a lease": (
        'timed_on = "2/coils/512"\nstep_ms = 100\n',
        "",
        "relay.heater.modbus.timed_on: missing: a relay without timed-on may drive a pump, never a heater",
    ),
    "main contactor without a lease": (
        'timed_on = "2/coils/513"\nstep_ms = 100\n',
        "",
        "relay.main_contactor.modbus.timed_on: missing: a relay without timed-on may drive a pump, never a heater",
    ),
    "no place for a probe": (
        '"1/input_registers/0"',
        '"1/input/0"',
        'probe.sleeve.source: "input" is no area: coils, discrete_inputs, holding_registers, input_registers',
    ),
    "a place that is none": (
        '"1/input_registers/0"',
        '"register 30001"',
        "probe.sleeve.source: is no place: UNIT/AREA/ADDRESS, as 1/input_registers/0",
    ),
    "unit out of range": (
        '"1/input_registers/0"',
        '"248/input_registers/0"',
        "probe.sleeve.source: unit 248 is out of range: 1 to 247",
    ),
    "address as manuals count": (
        '"1/input_registers/0"',
        '"1/input_registers/99999"',
        "probe.sleeve.source: address 99999 is out of range: 0 to 65535, counted from 0 as on the wire",
    ),
    "a temperature in a coil": (
        '"1/input_registers/0"',
        '"1/coils/0"',
        "probe.sleeve.source: coils will not do here: holding_registers or input_registers",
    ),
    "a relay at an input": (
        'place = "2/coils/2"',
        'place = "2/discrete_inputs/2"',
        "relay.pump.modbus.place: discrete_inputs will not do here: coils or holding_registers",
    ),
    "two relays at one place": (
        'place = "2/coils/2"',
        'place = "2/coils/0"',
        "relay.pump.modbus: shares 2/coils/0 with [relay.heater.modbus]",
    ),
    "a lease on another unit": (
        'timed_on = "2/coils/512"',
        'timed_on = "3/coils/512"',
        "relay.heater.modbus.timed_on: is on unit 3, the relay on unit 2: they are one relay",
    ),
    "coarse steps for an SSR": (
        'timed_on = "2/coils/512"\nstep_ms = 100\n',
        'timed_on = "2/coils/512"\nstep_ms = 1000\n',
        'relay.heater.drive: an SSR is driven in bursts, which takes step_ms of at most 100; else "contactor"',
    ),
    "a lease too short for a step": (
        "lease_s = 3.0",
        "lease_s = 1.5",
        "relay.heater.modbus.step_ms: 100 ms is too long a step for lease_s = 1.5",
    ),
    "on of a coil": (
        'place = "2/coils/2"',
        'place = "2/coils/2"\non = 5',
        "relay.pump.modbus.on: a coil is on at 1 and off at 0",
    ),
    "a relay that is nowhere": (
        '[relay.pump.modbus]\nplace = "2/coils/2"\n',
        "",
        "relay.pump.modbus: missing: where the relay is on the Modbus line",
    ),
    "an odd speed": (
        "baud = 19200",
        "baud = 19201",
        "bridge.baud: 19201 is not allowed: 1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200",
    ),
    "word order of one word": (
        "scale = 0.1\nopen_codes = [32767]\n\n[probe.cabin]",
        'scale = 0.1\nword_order = "low_first"\n\n[probe.cabin]',
        "probe.sleeve.modbus.word_order: only with an encoding of 32 bits",
    ),
}


@pytest.mark.parametrize("name", MISTAKES)
def test_a_mistake_on_modbus_is_named_with_what_is_allowed(loader: Loader, name: str) -> None:
    """Promise 5 among them."""
    old, new, told = MISTAKES[name]
    assert told in [
        mistake.partition(": ")[2] for mistake in loader.mistakes(loader.kettle, swapped(LOCKHOUSE, old, new))
    ]


MIXED_MISTAKES: dict[str, tuple[str, str, list[str]]] = {
    "a bridge that is not there": (
        'bridge = "wifi"',
        'bridge = "wify"',
        [
            "also.wifi: nothing hangs on it: no probe, relay or input says it with bridge",
            "probe.yard.bridge: there is no [also.wify]: without bridge it hangs on [bridge]",
        ],
    ),
    "a name that is taken": (
        "[also.wifi]",
        "[also.bridge]",
        [
            "also.bridge: give it another name: that of [bridge] is bridge",
            "also.bridge: nothing hangs on it: no probe, relay or input says it with bridge",
            "probe.yard.bridge: there is no [also.wifi]: without bridge it hangs on [bridge]",
        ],
    ),
    "heater and contactor apart": (
        "[relay.main_contactor]\n",
        (
            '[relay.main_contactor]\nbridge = "rail"\n\n[relay.main_contactor.modbus]\nplace = "2/coils/1"\n'
            'timed_on = "2/coils/513"\nstep_ms = 100\n'
        ),
        ["relay.main_contactor.bridge: must be the heater's: one board switches them in their order"],
    ),
    "a source of the other kind": (
        'source = "285E3D910700005F"',
        'source = "1/input_registers/0"',
        ["probe.wall.source: is no ROM id: 16 hex digits, as the board prints them"],
    ),
    "keys of another kind": (
        'role = "ambient"\n',
        'role = "ambient"\n\n[probe.yard.modbus]\nscale = 0.1\n',
        ['probe.yard.modbus: only on a bridge of kind = "modbus"'],
    ),
    "one port twice": (
        'port = "/dev/ttyUSB0"',
        'port = "/dev/ttyACM0"',
        ['also.rail.port: "/dev/ttyACM0" is the port of [bridge]'],
    ),
    "a kind that is none": (
        'kind = "modbus"',
        'kind = "parallel"',
        ['also.rail.kind: "parallel" is not allowed: serial_line, modbus, mqtt'],
    ),
    "a key of another bridge": (
        'port = "/dev/ttyUSB0"',
        'port = "/dev/ttyUSB0"\nboard_id = "1"',
        ["also.rail.board_id: unknown key; known here: kind, port, baud, parity, stop_bits"],
    ),
    "a certificate without TLS": (
        'host = "broker.home"',
        'host = "broker.home"\nca_file = "ca.pem"',
        ["also.wifi.ca_file: only with tls = true"],
    ),
}


@pytest.mark.parametrize("name", MIXED_MISTAKES)
def test_a_mistake_between_bridges_is_named(loader: Loader, name: str) -> None:
    old, new, told = MIXED_MISTAKES[name]
    found = loader.mistakes(loader.kettle, swapped(MIXED, old, new))
    assert [mistake.partition(": ")[2] for mistake in found] == told
