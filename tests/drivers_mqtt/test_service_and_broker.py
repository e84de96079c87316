"""A running batch whose broker stops or freezes: held, nothing heats, and heat returns only when somebody says so.

In real time and all at once, each with a whole service, simulated nodes and a mosquitto of its own.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from pathlib import Path

import pytest

from kettlebridge.app import Assignment, Service, Setting, run_service
from kettlebridge.bridges import bridge_to_simulated
from kettlebridge.files.local_time import zone_time
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import Command, CommandKind
from kettlebridge.model.ids import CommandId, KettleId
from kettlebridge.model.mqtt import Broker
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.runtime.clock import RealClock
from kettlebridge.simulated.kettle import body_of
from kettlebridge.simulated.nodes import over_mqtt, simulated_nodes
from kettlesim.acts import AddWater
from kettlesim.wire_mqtt.network import Nodes
from kettlesim.world import World
from tests.drivers_mqtt.mosquitto import Mosquitto, mosquitto, needs_mosquitto
from tests.scenarios.paced_day import RINSE, example
from tests.together import Lived, Scene

pytestmark = [needs_mosquitto, pytest.mark.process, pytest.mark.slow]

KETTLE = KettleId("thimble")
WATER = AddWater(litres=RINSE.water.fill_l, temp_c=15.0)
WITHIN_S = 30.0
"""A frozen broker is found by its silence; a batch that is carried on announces its heat for ten seconds."""
LOOKED_ON_S = 2.0
EVERY_TICKS = 3
FRESH_S = 2.0
PAUSED = (BatchState.HOLDING, BatchState.HELD)
Trouble = Callable[[Mosquitto], None]


async def _say(service: Service, kind: CommandKind, count: int) -> None:
    command = Command(id=CommandId(f"{kind.value}.{count}"), kind=kind, who="test", at_kettle=True)
    await service.commands.submit(KETTLE, command)


async def _begun(service: Service) -> None:
    """The batch runs, its fill is confirmed, and the node says that it heats."""
    async for snapshot in service.snapshots.stream(KETTLE):
        if snapshot.outputs.board_heater_permille:
            return
        if snapshot.n % EVERY_TICKS == 0 and snapshot.state is BatchState.IDLE:
            await _say(service, CommandKind.START, snapshot.n)
        elif snapshot.n % EVERY_TICKS == 0 and snapshot.calls:
            await _say(service, CommandKind.CONFIRM, snapshot.n)


async def _until(service: Service, seen: Callable[[Snapshot], object]) -> None:
    async with asyncio.timeout(WITHIN_S):
        async for snapshot in service.snapshots.stream(KETTLE):
            if seen(snapshot):
                return


async def _carried_on(service: Service) -> None:
    """Told so until it heats: on a busy machine a sample may be late, and pauses it once more."""
    async with asyncio.timeout(WITHIN_S):
        async for snapshot in service.snapshots.stream(KETTLE):
            if snapshot.state is BatchState.RUNNING and snapshot.outputs.board_heater_permille:
                return
            if snapshot.n % EVERY_TICKS == 0 and snapshot.state is BatchState.HELD:
                await _say(service, CommandKind.CARRY_ON, snapshot.n)


def _paused(snapshot: Snapshot) -> bool:
    return snapshot.state in PAUSED


def _fresh(snapshot: Snapshot) -> bool:
    return all(probe.age_s is not None and probe.age_s < FRESH_S for probe in snapshot.probes)


def _heats(nodes: Nodes) -> bool:
    relays = [(node, relay) for node in nodes.nodes for relay in node.fittings.relays]
    return any(bool(node.fraction(relay.load)) for node, relay in relays if node.fittings.name == "heater")


async def _stays_cold(nodes: Nodes) -> None:
    for _ in range(round(LOOKED_ON_S / 0.1)):
        await asyncio.sleep(0.1)
        assert not _heats(nodes)


async def _day(broker: Mosquitto, folder: Path, lost: Trouble, back: Trouble) -> None:
    file = over_mqtt(example("thimble", "quillet_bitter").file, Broker(host="127.0.0.1", port=broker.port))
    clock = RealClock()
    world = World(body_of(file.kettle), seed=1, probe_offset_c=0.0)
    world.act(WATER)
    nodes = simulated_nodes(file, clock, world)

    async def body(service: Service) -> None:
        await _begun(service)
        assert _heats(nodes)
        lost(broker)
        await _until(service, _paused)
        await asyncio.sleep(file.kettle.safety.lease_s)
        await _stays_cold(nodes)
        back(broker)
        await _until(service, _fresh)
        await _stays_cold(nodes)
        await _carried_on(service)

    setting = Setting(clock=clock, folder=folder / "state", time=zone_time("UTC"), bridges=bridge_to_simulated)
    simulated = asyncio.create_task(nodes.run(), name="nodes")
    try:
        await run_service([Assignment(file=file, profile=RINSE)], setting, body)
    finally:
        simulated.cancel()
        await asyncio.wait({simulated})


TROUBLES: dict[str, tuple[Trouble, Trouble]] = {
    "stopped": (Mosquitto.stop, Mosquitto.start),
    "frozen": (Mosquitto.freeze, Mosquitto.thaw),
}


@pytest.fixture(scope="module")
def days(tmp_path_factory: pytest.TempPathFactory) -> Lived:
    """A day with each trouble, each with a broker of its own."""

    def scene(name: str) -> Scene:
        async def lived() -> None:
            with mosquitto(folder := tmp_path_factory.mktemp(name)) as broker:
                await _day(broker, folder, *TROUBLES[name])

        return lived

    return Lived({name: scene(name) for name in TROUBLES})


@pytest.mark.parametrize("trouble", TROUBLES)
def test_a_batch_whose_broker_is_gone_is_held_and_heats_again_only_when_told(days: Lived, trouble: str) -> None:
    days.see(trouble)
