"""Nodes and their kettle on a real broker, each node with a connection of its own.

In accelerated time a message of a node counts as under way until the broker has acknowledged it: by then the broker
has handed it to everybody who listens.
"""

from __future__ import annotations

import asyncio
import socket
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

import aiomqtt

from kettlesim.wire_mqtt.fittings import Load
from kettlesim.wire_mqtt.node import Said, VirtualNode
from kettlesim.wire_mqtt.prompt import PromptClient
from kettlesim.wire_mqtt.radio import Damage, Radio
from kettlesim.wire_serial.clock import Clock, Gate
from kettlesim.world import Act, Outputs, World

_COOL_STEP_S = 0.5
_HOT_STEP_S = 0.1
_HOT_C = 85.0
_OUTBOX = 256  # messages that a node keeps for a broker that is slow; the oldest go first
_NO_DELAY = ((socket.IPPROTO_TCP, socket.TCP_NODELAY, 1),)
_AGAIN_AFTER_S = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Address:
    """Of a broker."""

    host: str
    port: int
    username: str | None = None
    password: str | None = None


class _Post:
    """What one node has to send."""

    def __init__(self, gate: Gate) -> None:
        self._gate = gate
        self._waiting: deque[Said] = deque()
        self._filled = asyncio.Event()

    def put(self, said: Said) -> None:
        self._gate.shut()
        self._waiting.append(said)
        if len(self._waiting) > _OUTBOX:
            self._waiting.popleft()
            self._gate.open()
        self._filled.set()

    async def next(self) -> Said:
        while not self._waiting:
            self._filled.clear()
            await self._filled.wait()
        return self._waiting.popleft()

    def sent(self) -> None:
        self._gate.open()

    def clear(self) -> None:
        self._gate.open(len(self._waiting))
        self._waiting.clear()


class Nodes:
    """Runs freshly made nodes in one world; `ready` is set once all are connected.

    A node that loses its broker comes back by itself. Set faults through `nodes`, `world` and `radio` at any time.
    """

    def __init__(
        self,
        clock: Clock,
        world: World,
        nodes: Sequence[VirtualNode],
        address: Address,
        radio: Radio | None = None,
    ) -> None:
        self.world = world
        self.nodes = tuple(nodes)
        self.radio = radio or Radio(Damage(), seed=0)
        self.ready = asyncio.Event()
        self._clock = clock
        self._address = address
        self._world_s = clock.now_s()
        self._posts = [_Post(clock.gate(f"{address.port} {node.fittings.name}>")) for node in nodes]
        self._joining = clock.gate(f"{address.port} nodes joining")
        self._connected: set[int] = set()

    async def run(self) -> None:
        """Until cancelled."""
        async with asyncio.TaskGroup() as group:
            for index, node in enumerate(self.nodes):
                group.create_task(self._keep_connected(index), name=f"node {node.fittings.name}")
            await self.ready.wait()
            while True:
                await self._clock.sleep_until(self._next_s())
                self.look()

    def look(self) -> None:
        """Brings world and nodes up to now, each thing that fell due at its own time."""
        now_s = self._clock.now_s()
        while (at_s := self._next_s()) <= now_s:
            self._reach(at_s)
        self._reach(now_s)

    def act(self, act: Act) -> None:
        """The brewer does something now. Raises ValueError where it makes no sense."""
        self.look()
        self.world.act(act)

    def fraction(self, load: Load) -> float:
        """What all relays of that load let through; 0 where there is none, for a main contactor 1."""
        given = [fraction for node in self.nodes if (fraction := node.fraction(load)) is not None]
        return given[0] if given else float(load is Load.CONTACTOR)

    def _next_s(self) -> float:
        step_s = _HOT_STEP_S if self.world.plant.heat.bottom_c > _HOT_C else _COOL_STEP_S
        dues_s = [node.next_due_s() for node in self.nodes]
        return min(self._world_s + step_s, self.radio.next_due_s(), *dues_s)

    def _reach(self, at_s: float) -> None:
        for_s = at_s - self._world_s
        if for_s > 0:
            outputs = Outputs(
                heater_fraction=self.fraction(Load.HEATER),
                main_contactor_closed=self.fraction(Load.CONTACTOR) > 0.0,
                pump_on=self.fraction(Load.PUMP) > 0.0,
            )
            self.world.advance(outputs, for_s)
            self._world_s = at_s
        self.radio.release(at_s)
        self._collect(at_s)

    def _collect(self, at_s: float) -> None:
        for node, post in zip(self.nodes, self._posts, strict=True):
            for said in node.poll(at_s):
                if said.retained:
                    post.put(said)
                else:
                    self.radio.pass_on(lambda post=post, said=said: post.put(said), at_s)  # type: ignore[misc]  # bound now

    def _arrived(self, node: VirtualNode, topic: str, payload: bytes) -> None:
        self.look()
        now_s = self._clock.now_s()
        self.radio.pass_on(lambda: node.receive(topic, payload, self._world_s), now_s)
        self._collect(now_s)

    async def _keep_connected(self, index: int) -> None:
        while True:
            try:
                await self._connection(index)
            except* aiomqtt.MqttError:
                pass
            await asyncio.sleep(_AGAIN_AFTER_S)  # real time: it is the broker that is waited for

    async def _connection(self, index: int) -> None:
        node, post = self.nodes[index], self._posts[index]
        fittings = node.fittings
        post.clear()  # a node keeps nothing for later
        node.greet()
        self._joining.shut()
        try:
            client = self._client(node)
            await client.__aenter__()
        finally:
            self._joining.open()
        try:
            async with asyncio.TaskGroup() as group:
                group.create_task(self._read(client, node), name=f"node {fittings.name}: reader")
                self._joining.shut()
                try:
                    topics = [(relay.command, 0) for relay in fittings.relays]
                    if topics:
                        await client.subscribe(topics)
                finally:
                    self._joining.open()
                self._connected.add(index)
                if len(self._connected) == len(self.nodes):
                    self.ready.set()
                while True:
                    said = await post.next()
                    try:
                        await client.publish(said.topic, said.payload, qos=1, retain=said.retained)
                    finally:
                        post.sent()
                    task = asyncio.current_task()
                    if task is not None and task.cancelling():  # Python 3.11's wait_for can lose it
                        raise asyncio.CancelledError
        finally:
            await client.__aexit__(None, None, None)

    def _client(self, node: VirtualNode) -> aiomqtt.Client:
        fittings = node.fittings
        will = None
        if fittings.availability is not None:
            will = aiomqtt.Will(fittings.availability, fittings.unavailable, 0, retain=True)
        return PromptClient(
            self._address.host,
            self._address.port,
            username=self._address.username,
            password=self._address.password,
            clean_session=True,
            will=will,
            keepalive=10,
            timeout=3.0,
            socket_options=_NO_DELAY,
        )

    async def _read(self, client: aiomqtt.Client, node: VirtualNode) -> None:
        async for message in client.messages:
            if not message.retain:
                self._arrived(node, str(message.topic), bytes(message.payload))
