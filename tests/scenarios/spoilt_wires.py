"""Modbus and MQTT under a day of trouble: the same day as on the serial board, behind a bad cable or a bad radio."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable, Coroutine
from contextlib import asynccontextmanager
from dataclasses import replace
from typing import Any

from kettlebridge.files.kettle_file import KettleFile
from kettlebridge.files.modbus_bridge import ModbusBridge
from kettlebridge.model.demand import Output
from kettlebridge.model.modbus_map import Parity
from kettlebridge.runtime.clock import PacedClock
from kettlebridge.simulated.kettle import body_of
from kettlebridge.simulated.modbus import simulated_modules
from kettlebridge.simulated.nodes import simulated_nodes
from kettlesim.line_proxy import LineProxy, whole_chunks
from kettlesim.wire_modbus.line import ModbusLine
from kettlesim.wire_mqtt.fittings import Load
from kettlesim.wire_mqtt.network import Nodes
from kettlesim.wire_mqtt.node import VirtualNode
from kettlesim.wire_mqtt.radio import Radio
from kettlesim.wire_serial.line import ACCELERATED
from kettlesim.wire_serial.pins import Pin
from kettlesim.world import World
from tests.scenarios.paced_day import Seen, Vessel, Wired

PINS = {Pin.HEATER: Output.HEATER, Pin.PUMP: Output.PUMP, Pin.CONTACTOR: Output.MAIN_CONTACTOR}
LOADS = {Load.HEATER: Output.HEATER, Load.PUMP: Output.PUMP, Load.CONTACTOR: Output.MAIN_CONTACTOR}


def on_modules(made: list[ModbusLine] | None = None) -> Wired:
    """Modbus modules, behind a bad cable where the vessel has one; their line is added to `made`."""

    @asynccontextmanager
    async def wired(
        vessel: Vessel, clock: PacedClock, seen: Seen, seed: int
    ) -> AsyncIterator[tuple[KettleFile, World]]:
        bridge = vessel.file.bridge
        assert isinstance(bridge, ModbusBridge)
        world = World(body_of(vessel.file.kettle), seed=seed, probe_offset_c=0.0)
        probes = {probe.name: probe for probe in vessel.file.kettle.probes}
        line = simulated_modules(bridge.map, probes, clock, world, ACCELERATED)
        if made is not None:
            made.append(line)
        _note_pins(line, clock, seen)
        port, work = line.port, [line.run]
        if vessel.damage is not None:
            seen.proxy = LineProxy(clock, line.port, seed=seed, cut=whole_chunks)
            seen.proxy.to_board.damage = seen.proxy.to_host.damage = vessel.damage
            port, work = seen.proxy.port, [line.run, seen.proxy.run]
        characters = replace(bridge.map, parity=Parity.NONE, stop_bits=1)
        async with _at_work(*work):
            yield replace(vessel.file, bridge=replace(bridge, port=port, map=characters)), world

    return wired


def on_nodes(radio: Radio, made: list[Nodes] | None = None) -> Wired:
    """MQTT nodes behind that radio; they are added to `made`."""

    @asynccontextmanager
    async def wired(
        vessel: Vessel, clock: PacedClock, seen: Seen, seed: int
    ) -> AsyncIterator[tuple[KettleFile, World]]:
        world = World(body_of(vessel.file.kettle), seed=seed, probe_offset_c=0.0)
        nodes = simulated_nodes(vessel.file, clock, world, radio)
        if made is not None:
            made.append(nodes)
        for node in nodes.nodes:
            _note_relays(node, clock, seen)
        async with _at_work(nodes.run):
            yield vessel.file, world

    return wired


@asynccontextmanager
async def _at_work(*runs: Callable[[], Coroutine[Any, Any, None]]) -> AsyncIterator[None]:
    async with asyncio.TaskGroup() as group:
        tasks = [group.create_task(run(), name="simulated") for run in runs]
        try:
            yield
        finally:
            for task in tasks:
                task.cancel()


def _note_pins(line: ModbusLine, clock: PacedClock, seen: Seen) -> None:
    def changed(pin: Pin, on: bool, _at_ms: int) -> None:
        if on:
            seen.raised.append((clock.now_s(), PINS[pin]))

    line.pins.watch = changed


def _note_relays(node: VirtualNode, clock: PacedClock, seen: Seen) -> None:
    receive = node.receive

    def received(topic: str, payload: bytes, now_s: float) -> None:
        node.advance(now_s)
        before = {load: node.fraction(load) for load in LOADS}
        receive(topic, payload, now_s)
        for load, output in LOADS.items():
            if node.fraction(load) and not before[load]:
                seen.raised.append((clock.now_s(), output))

    node.receive = received  # type: ignore[method-assign]  # the node's contacts, seen from outside
