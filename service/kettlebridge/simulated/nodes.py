"""Virtual nodes as a kettle file describes them: its topics, payloads and timers, on a real broker."""

from __future__ import annotations

import secrets
from collections import defaultdict
from dataclasses import replace

from kettlebridge.files.kettle_file import KettleFile
from kettlebridge.files.mqtt_bridge import MqttBridge
from kettlebridge.model.demand import Output
from kettlebridge.model.errors import UsageError
from kettlebridge.model.kettle import HeaterDrive
from kettlebridge.model.mqtt import AfterPowerCut, Broker, Place, ProbeWire, RelayWire, Unit
from kettlebridge.model.reading import BoardInput
from kettlebridge.ports import Clock
from kettlebridge.simulated.kettle import read_c
from kettlesim.wire_mqtt.fittings import Load, Node, Probe, Relay, Where
from kettlesim.wire_mqtt.network import Address, Nodes
from kettlesim.wire_mqtt.node import VirtualNode
from kettlesim.wire_mqtt.radio import Radio
from kettlesim.world import World

LOADS = {Output.HEATER: Load.HEATER, Output.PUMP: Load.PUMP, Output.MAIN_CONTACTOR: Load.CONTACTOR}
AUTO_OFF_S = 3.0

NO_BROKER = (
    "MQTT needs a broker: start one, for example with `mosquitto -p 1883` (on Debian: apt install mosquitto), "
    "then add --broker 127.0.0.1:1883"
)


def at_broker(file: KettleFile, broker: Broker) -> KettleFile:
    """The kettle with its own topics on another broker. Raises UsageError for one that is not on MQTT."""
    if not isinstance(file.bridge, MqttBridge):
        raise UsageError(f"{file.path}: its bridge is not MQTT; add --bridge mqtt")
    return replace(file, bridge=replace(file.bridge, broker=broker))


def over_mqtt(file: KettleFile, broker: Broker | None) -> KettleFile:
    """The kettle with its probes and relays on that broker, under topics that nobody else has. Raises UsageError."""
    if broker is None:
        raise UsageError(NO_BROKER)
    base = f"kettlebridge-demo/{secrets.token_hex(4)}/{file.kettle.name}"
    percent = file.kettle.drive is HeaterDrive.SSR
    has = {
        Output.HEATER: True,
        Output.PUMP: file.kettle.has_pump,
        Output.MAIN_CONTACTOR: file.kettle.has_main_contactor,
    }
    bridge = MqttBridge(
        broker=broker,
        client_id=f"kettlebridge-{file.kettle.name}",
        probes={
            probe.name: ProbeWire(place=Place(topic=f"{base}/sensors", pointer=f"/{probe.name}/temperature_c"))
            for probe in file.kettle.probes
        },
        relays={
            output: _relay(f"{base}/{output.value}", percent=percent and output is Output.HEATER)
            for output in Output
            if has.get(output)
        },
    )
    return replace(file, bridge=bridge, also=(), kettle=replace(file.kettle, inputs=BoardInput.NONE))


def _relay(base: str, *, percent: bool) -> RelayWire:
    return RelayWire(
        command=f"{base}/set",
        on='{"percent": {percent}}' if percent else "ON",
        off='{"percent": 0}' if percent else "OFF",
        state=Place(topic=f"{base}/state", pointer="/percent") if percent else Place(topic=f"{base}/state"),
        state_on="ON",
        state_off="OFF",
        availability=f"{base}/availability",
        available="online",
        auto_off_s=AUTO_OFF_S,
        after_power_cut=AfterPowerCut.OFF,
    )


def simulated_nodes(file: KettleFile, clock: Clock, world: World, radio: Radio | None = None) -> Nodes:
    """Nodes that behave as the file's own would: one for each availability topic, one for all probes."""
    bridge = file.bridge
    if not isinstance(bridge, MqttBridge):
        raise UsageError(f"{file.path}: its bridge is not MQTT")
    by_name = {str(probe.name): probe for probe in file.kettle.probes}
    groups: dict[str | None, list[tuple[Output, RelayWire]]] = defaultdict(list)
    for output, wire in bridge.relays.items():
        groups[wire.availability].append((output, wire))
    fittings = [
        Node(
            name="+".join(output.value for output, _ in group),
            relays=tuple(_fitted(output, wire) for output, wire in group),
            availability=topic,
            available=group[0][1].available,
        )
        for topic, group in groups.items()
    ]
    probes = tuple(
        Probe(name=str(name), where=_where(wire.place), fahrenheit=wire.unit is Unit.FAHRENHEIT)
        for name, wire in bridge.probes.items()
    )
    fittings.append(Node(name="probes", probes=probes))
    now_s = clock.now_s()
    nodes = [VirtualNode(one, lambda name: read_c(world, by_name[name]), now_s=now_s) for one in fittings]
    broker = bridge.broker
    address = Address(host=broker.host, port=broker.port, username=broker.username, password=broker.password)
    return Nodes(clock, world, nodes, address, radio)


def _fitted(output: Output, wire: RelayWire) -> Relay:
    return Relay(
        load=LOADS[output],
        command=wire.command,
        on=wire.on,
        off=wire.off,
        state=None if wire.state is None else _where(wire.state),
        state_on=wire.state_on,
        state_off=wire.state_off,
        auto_off_s=wire.auto_off_s,
    )


def _where(place: Place) -> Where:
    if place.pointer is None:
        return Where(topic=place.topic)
    names = [part.replace("~1", "/").replace("~0", "~") for part in place.pointer.split("/")[1:]]
    return Where(topic=place.topic, names=tuple(names))
