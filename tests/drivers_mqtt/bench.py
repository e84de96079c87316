"""A kettle's nodes on a broker, the driver beside them, and an inbox that keeps what it hears."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass, field, replace
from typing import Any, TypeVar

from kettlebridge.drivers.mqtt import MqttNodes, MqttSettings
from kettlebridge.model.demand import Demand, Output
from kettlebridge.model.errors import LinkError, LinkReason
from kettlebridge.model.ids import ProbeName
from kettlebridge.model.mqtt import Broker, Place, ProbeWire, RelayWire
from kettlebridge.model.sample import BoardReport, Sample
from kettlebridge.ports import Clock
from kettlebridge.runtime.clock import RealClock, run_paced
from kettlesim.plant.body import Body
from kettlesim.wire_mqtt.fittings import Load, Node, Probe, Relay, Where
from kettlesim.wire_mqtt.network import Address, Nodes
from kettlesim.wire_mqtt.node import VirtualNode
from kettlesim.wire_mqtt.radio import Radio
from kettlesim.world import AddWater, World
from tests.drivers_mqtt.mosquitto import Mosquitto

T = TypeVar("T")

GUARD_S = 20.0
AUTO_OFF_S = 3.0
WALL = ProbeName("wall")
LOADS = {Output.HEATER: Load.HEATER, Output.PUMP: Load.PUMP, Output.MAIN_CONTACTOR: Load.CONTACTOR}


def relay_wire(output: Output) -> RelayWire:
    """A plug that answers each order on its own topic."""
    return RelayWire(
        command=f"{output.value}/set",
        on="ON",
        off="OFF",
        state=Place(topic=f"{output.value}/state"),
        state_on="ON",
        state_off="OFF",
        availability=f"{output.value}/lwt",
        available="online",
        auto_off_s=AUTO_OFF_S,
    )


def settings(port: int = 1, **changes: Any) -> MqttSettings:
    """Three plugs and a probe."""
    whole = MqttSettings(
        broker=Broker(host="127.0.0.1", port=port),
        client_id="bench",
        lease_s=3.0,
        probes={WALL: ProbeWire(place=Place(topic="sensors", pointer="/wall/c"))},
        relays={output: relay_wire(output) for output in LOADS},
        require_simulated=True,
    )
    return replace(whole, **changes)


@dataclass(slots=True, kw_only=True)
class Heard:
    """An inbox."""

    links: int = 0
    samples: list[Sample] = field(default_factory=list)
    reports: list[BoardReport] = field(default_factory=list)
    changed: asyncio.Event = field(default_factory=asyncio.Event)

    def linked(self) -> None:
        self.links += 1
        self.changed.set()

    def link_lost(self, reason: LinkReason, detail: str) -> None:
        raise AssertionError("the keeper's affair")

    def hear(self, samples: tuple[Sample, ...], report: BoardReport | None) -> None:
        self.samples += samples
        if report is not None:
            self.reports.append(report)
        self.changed.set()

    async def until(self, holds: Callable[[], bool]) -> None:
        """Waits until `holds`, at each thing heard."""
        async with asyncio.timeout(GUARD_S):
            while not holds():
                self.changed.clear()
                await self.changed.wait()


class Ticker:
    """Stands for the ticks: once a second it demands `wants` (heater, pump, contactor), as long as it is told to."""

    def __init__(self, clock: Clock, link: MqttNodes, heard: Heard) -> None:
        self.wants = (0, False, False)
        self._clock, self._link, self._heard = clock, link, heard

    async def run(self) -> None:
        while True:
            if self._heard.reports:
                heater, pump, contactor = self.wants
                permille = {
                    Output.HEATER: heater,
                    Output.PUMP: 1000 * pump,
                    Output.MAIN_CONTACTOR: 1000 * contactor,
                    Output.BUZZER: 0,
                }
                token = self._heard.reports[-1].board.acted_on
                self._link.offer(
                    tuple(
                        Demand(output=output, permille=asked, ttl_ms=3000, acted_on=token)
                        for output, asked in permille.items()
                    )
                )
            await self._clock.sleep_until(self._clock.now_s() + 1.0)


class Bench:
    """Everything. `link` is made of `settings`, and runs as `session`; `ticker` runs beside it."""

    def __init__(self, clock: Clock, broker: Mosquitto, radio: Radio | None = None, /, **changes: Any) -> None:
        self.clock = clock
        self.broker = broker
        self.heard = Heard()
        self.world = World(Body.from_figures(capacity_l=25, heater_w=2500), seed=1, probe_offset_c=0.0)
        self.world.act(AddWater(litres=15.0, temp_c=20.0))
        self.nodes = Nodes(
            clock, self.world, self._nodes(clock.now_s()), Address(host="127.0.0.1", port=broker.port), radio
        )
        self.link = MqttNodes(settings(broker.port, **changes), clock)
        self.ticker = Ticker(clock, self.link, self.heard)
        self.session: asyncio.Task[None]
        self.tasks: list[asyncio.Task[Any]] = []

    def node(self, output: Output) -> VirtualNode:
        """The plug of that output."""
        return next(node for node in self.nodes.nodes if node.fraction(LOADS[output]) is not None)

    def on(self, output: Output) -> bool:
        """Whether its contact is closed."""
        self.nodes.look()
        return (self.node(output).fraction(LOADS[output]) or 0.0) > 0.0

    def press(self, output: Output) -> None:
        """Somebody presses the button on its plug."""
        self.node(output).press(LOADS[output], self.clock.now_s())
        self.nodes.look()

    def start(self) -> None:
        """A session, and ticks."""
        self.session = self.beside(self.link.run(self.heard), "session")
        self.beside(self.ticker.run(), "ticker")

    def beside(self, work: Any, name: str) -> asyncio.Task[Any]:
        """Runs until the bench is cleared."""
        task = asyncio.create_task(work, name=name)
        self.tasks.append(task)
        return task

    async def wait(self, for_s: float) -> None:
        """On the clock."""
        await self.clock.sleep_until(self.clock.now_s() + for_s)

    async def say(self, topic: str, payload: str, *options: str) -> None:
        """A message of somebody else; time stands still until the broker has it and everybody has heard it."""
        gate = self.clock.gate("somebody else")
        gate.shut()
        try:
            await self.broker.say(topic, payload, *options)
        finally:
            gate.open()

    async def linked(self) -> None:
        """In a session."""
        await self.heard.until(lambda: self.heard.links > 0)

    async def ended(self) -> BaseException:
        """What the session ended with."""
        async with asyncio.timeout(GUARD_S):
            await asyncio.wait({self.session})
        error = self.session.exception()
        assert error is not None
        return error

    def _nodes(self, now_s: float) -> list[VirtualNode]:
        plugs = [
            Node(
                name=output.value,
                relays=(
                    Relay(
                        load=load,
                        command=f"{output.value}/set",
                        on="ON",
                        off="OFF",
                        state=Where(topic=f"{output.value}/state"),
                        state_on="ON",
                        state_off="OFF",
                        auto_off_s=AUTO_OFF_S,
                    ),
                ),
                availability=f"{output.value}/lwt",
            )
            for output, load in LOADS.items()
        ]
        probes = Node(name="probes", probes=(Probe(name="control", where=Where(topic="sensors", names=("wall", "c"))),))
        return [VirtualNode(one, self.world.reading_c, now_s=now_s) for one in (*plugs, probes)]


@asynccontextmanager
async def bench(clock: Clock, broker: Mosquitto, radio: Radio | None = None, /, **changes: Any) -> AsyncIterator[Bench]:
    """The bench with its nodes connected; everything that runs is ended afterwards."""
    made = Bench(clock, broker, radio, **changes)
    made.beside(made.nodes.run(), "nodes")
    try:
        async with asyncio.timeout(GUARD_S):
            await made.nodes.ready.wait()
        yield made
    finally:
        for task in reversed(made.tasks):  # the session while its nodes still are there
            task.cancel()
            await asyncio.wait({task})
        for task in made.tasks:
            if not task.cancelled():
                task.exception()


def paced(
    broker: Mosquitto, body: Callable[[Bench], Awaitable[None]], radio: Radio | None = None, /, **changes: Any
) -> None:
    """Lives `body` in accelerated time."""

    async def main(clock: Clock) -> None:
        async with bench(clock, broker, radio, **changes) as made:
            await body(made)

    run_paced(main)


def in_real_time(broker: Mosquitto, body: Callable[[Bench], Awaitable[None]], /, **changes: Any) -> None:
    """Lives `body` in real time."""

    async def main() -> None:
        async with bench(RealClock(), broker, **changes) as made:
            await body(made)

    asyncio.run(main())


async def heating(on: Bench) -> None:
    """In a session, with the heater on."""
    on.start()
    await on.linked()
    on.ticker.wants = (1000, False, True)
    await on.wait(3.0)
    assert on.on(Output.HEATER)


def refusal(error: BaseException) -> tuple[LinkReason, str]:
    """Why there is no session."""
    assert isinstance(error, LinkError)
    return error.reason, error.detail
