"""Promise 31: broker lost, frozen, back; a node that is away for twenty minutes.

The nodes' auto-off ends the heat, nothing is sent twice, the link comes back. The broker's part in real time and all at
once, each with a mosquitto of its own; the node's in accelerated time.
"""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from pathlib import Path

import pytest

from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.demand import Output
from kettlebridge.model.errors import LinkError, LinkReason
from kettlebridge.model.mqtt import Broker, MqttVersion
from kettlebridge.model.plan import AskKind, AskStep, HeatStep, Profile, Water
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.runtime.clock import RealClock, run_paced
from kettlebridge.simulated.nodes import over_mqtt
from kettlesim.wire_mqtt.network import Nodes
from kettlesim.wire_mqtt.radio import Damage, Radio
from tests.drivers_mqtt.bench import AUTO_OFF_S, Bench, bench, heating, paced
from tests.drivers_mqtt.mosquitto import Mosquitto, mosquitto, needs_mosquitto
from tests.scenarios.paced_day import START_UTC_S, Day, Vessel, example
from tests.scenarios.spoilt_wires import on_nodes
from tests.together import Lived, Scene

pytestmark = [needs_mosquitto, pytest.mark.process, pytest.mark.slow]

HARDLY_WARM = Profile(
    name="Hardly warm",
    water=Water(fill_l=4.0),
    steps=(
        AskStep(name="Fill", what=AskKind.FILL),
        HeatStep(name="Heat", to_c=20.0),
        AskStep(name="Empty", what=AskKind.EMPTY),
    ),
)
SLACK_S = 1.5
AWAY_S = 1200.0
HELD_WITHIN_S = 5.0
PAUSED = (BatchState.HOLDING, BatchState.HELD)


async def comes_back(on: Bench) -> None:
    """A new session over the same link, as the keeper makes it: again and again."""
    links = on.heard.links
    on.heard.reports.clear()
    on.ticker.wants = (0, False, False)
    async with asyncio.timeout(30.0):
        while on.heard.links == links:
            on.session = on.beside(on.link.run(on.heard), "again")
            joined = on.beside(on.heard.until(lambda: on.heard.links > links), "joined")
            await asyncio.wait({on.session, joined}, return_when=asyncio.FIRST_COMPLETED)
            await asyncio.sleep(0.3)


async def stays_off(on: Bench, for_s: float) -> None:
    """Looks again and again."""
    end_s = on.clock.now_s() + for_s
    while on.clock.now_s() < end_s:
        assert not on.on(Output.HEATER)
        await on.wait(0.05)


async def stops(on: Bench) -> None:
    await heating(on)
    begun_s = on.clock.now_s()
    on.broker.stop()
    error = await on.ended()
    assert isinstance(error, LinkError)
    assert error.reason is LinkReason.LOST
    assert on.clock.now_s() - begun_s < SLACK_S
    await on.wait(begun_s + AUTO_OFF_S + 0.1 - on.clock.now_s())
    assert not on.on(Output.HEATER)
    on.broker.start()
    await comes_back(on)
    await stays_off(on, 1.5)


async def freezes(on: Bench) -> None:
    await heating(on)
    begun_s = on.clock.now_s()
    on.broker.freeze()
    error = await on.ended()
    assert isinstance(error, LinkError)
    assert error.reason is LinkReason.LOST
    assert on.clock.now_s() - begun_s < 3.0 + SLACK_S
    await on.wait(begun_s + AUTO_OFF_S + 1.0 - on.clock.now_s())
    assert not on.on(Output.HEATER)
    thawed_s = on.clock.now_s()
    on.broker.thaw()
    on_since_s = None
    while on.clock.now_s() < thawed_s + 3.0:  # one "on" may have been under way, with an "off" right behind it
        if on.on(Output.HEATER):
            on_since_s = on.clock.now_s() if on_since_s is None else on_since_s
            assert on.clock.now_s() - on_since_s < 0.2
        await on.wait(0.01)
    await comes_back(on)
    await stays_off(on, 1.5)


async def vanishes(on: Bench) -> None:
    on.beside(_heard_on(on.broker, "heater/set", heard := asyncio.Event()), "listener")
    process = await asyncio.create_subprocess_exec(
        "mosquitto_sub",
        *("-h", "127.0.0.1", "-p", str(on.broker.port), "-t", "nothing"),
        *("--will-topic", "heater/set", "--will-payload", "OFF"),
    )
    await on.wait(0.5)
    process.kill()
    await process.wait()
    async with asyncio.timeout(5.0):
        await heard.wait()


async def _heard_on(broker: Mosquitto, topic: str, heard: asyncio.Event) -> None:
    process = await asyncio.create_subprocess_exec(
        "mosquitto_sub",
        "-h",
        "127.0.0.1",
        "-p",
        str(broker.port),
        "-C",
        "1",
        "-t",
        topic,
        stdout=asyncio.subprocess.PIPE,
    )
    try:
        await process.wait()
        heard.set()
    finally:
        if process.returncode is None:
            process.kill()
            await process.wait()


VERSIONS = {f"stops, version {version.value}": version for version in MqttVersion}
FREEZES, VANISHES = "freezes", "vanishes"


@pytest.fixture(scope="module")
def scenes(tmp_path_factory: pytest.TempPathFactory) -> Lived:
    """What may become of a broker or a service, each with a broker of its own."""

    def scene(body: Callable[[Bench], Awaitable[None]], version: MqttVersion = MqttVersion.V311) -> Scene:
        async def lived() -> None:
            with mosquitto(tmp_path_factory.mktemp("broker")) as running:
                at = Broker(host="127.0.0.1", port=running.port, version=version)
                async with bench(RealClock(), running, broker=at, require_simulated=False) as on:
                    await body(on)

        return lived

    return Lived(
        {name: scene(stops, version) for name, version in VERSIONS.items()}
        | {FREEZES: scene(freezes), VANISHES: scene(vanishes)}
    )


@pytest.mark.parametrize("version", VERSIONS)
def test_broker_that_stops_ends_the_session_at_once_and_the_heat_by_auto_off(scenes: Lived, version: str) -> None:
    scenes.see(version)


def test_frozen_broker_ends_the_session_within_the_silence_and_what_it_held_heats_nothing(scenes: Lived) -> None:
    scenes.see(FREEZES)


def test_service_that_vanishes_is_followed_by_its_last_will(scenes: Lived) -> None:
    scenes.see(VANISHES)


@pytest.mark.parametrize("restores", [False, True], ids=["stays off", "restores on"])
def test_a_node_back_after_twenty_minutes_heats_nothing_before_it_is_asked(broker: Mosquitto, restores: bool) -> None:
    """Promise 32 too: one that was set up wrongly is told to be off before there is a session again."""

    async def body(on: Bench) -> None:
        await heating(on)
        node = on.node(Output.HEATER)
        node.cut_power(on.clock.now_s())
        error = await on.ended()
        assert isinstance(error, LinkError)
        assert error.reason is LinkReason.NODE_AWAY
        links = on.heard.links
        on.heard.reports.clear()
        on.ticker.wants = (1000, False, True)  # a controller that would heat at once, had it a session
        await on.wait(AWAY_S)
        assert not on.on(Output.HEATER)
        node.restore_power(on.clock.now_s())
        if restores:
            on.press(Output.HEATER)
        on.ticker.wants = (0, False, False)
        on.session = on.beside(on.link.run(on.heard), "again")
        await on.heard.until(lambda: on.heard.links > links)
        assert not on.on(Output.HEATER)
        for _ in range(50):
            await on.wait(0.1)
            assert not on.on(Output.HEATER)
        on.ticker.wants = (1000, False, True)
        await on.wait(2.0)
        assert on.on(Output.HEATER)

    paced(broker, body)


class Absence:
    """Takes the supply of the heater's node away when it heats, and gives it back twenty minutes later."""

    def __init__(self, made: list[Nodes]) -> None:
        self.gone_s: float | None = None
        self.back_s: float | None = None
        self.held_s: float | None = None
        self.heated_while_away = False
        self.heated_before_it_ran = False
        self._made = made

    def look(self, _name: str, snapshot: Snapshot) -> None:
        """Once for each snapshot. Batch time and the nodes' clock begin together."""
        nodes = self._made[0]
        (heater,) = (node for node in nodes.nodes if node.fittings.name == "heater")
        now_s, on = snapshot.now_s, bool(heater.fraction(heater.fittings.relays[0].load))
        if self.gone_s is None:
            if on:
                self.gone_s = now_s
                heater.cut_power(now_s)
            return
        if self.held_s is None and snapshot.state in PAUSED:
            self.held_s = now_s
        if self.back_s is None:
            self.heated_while_away |= on
            if now_s >= self.gone_s + AWAY_S:
                self.back_s = now_s
                heater.restore_power(now_s)
        elif on and snapshot.state is not BatchState.RUNNING:
            self.heated_before_it_ran = True


def test_a_day_whose_heater_node_is_away_for_twenty_minutes_is_held_and_completes(
    broker: Mosquitto, tmp_path: Path
) -> None:
    made: list[Nodes] = []
    file = over_mqtt(example("thimble", "quillet_bitter").file, Broker(host="127.0.0.1", port=broker.port))
    day = Day({"thimble": Vessel(file=file, profile=HARDLY_WARM)}, tmp_path / "state")
    day.wired = on_nodes(Radio(Damage(), seed=1), made)
    absence = Absence(made)
    day.watch = absence.look
    run_paced(day.live, start_utc_s=START_UTC_S)
    assert absence.gone_s is not None
    assert absence.held_s is not None
    assert absence.held_s - absence.gone_s <= HELD_WITHIN_S
    assert absence.back_s is not None
    assert not absence.heated_while_away
    assert not absence.heated_before_it_ran
    assert day.seen["thimble"].state is BatchState.COMPLETE
