"""Promise 46: two services on one board. There is one session; the second is refused, and nothing goes to and fro."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from pathlib import Path

import pytest

from kettlebridge.drivers.modbus import ModbusLine
from kettlebridge.drivers.mqtt import MqttNodes
from kettlebridge.drivers.serial_line import SerialLine, SerialLineSettings
from kettlebridge.model.demand import Output
from kettlebridge.model.errors import LinkError, LinkReason
from kettlebridge.model.ids import ProbeName
from kettlebridge.model.mqtt import Broker, MqttVersion
from kettlebridge.runtime.clock import PacedClock, run_paced
from kettlesim.plant.body import Body
from kettlesim.wire_serial.fittings import Fittings
from kettlesim.wire_serial.line import ACCELERATED, SerialBoard, board_in
from kettlesim.world import AddWater, World
from tests.drivers_modbus.room import ON, Listener, Room, lived, pins, why_refused
from tests.drivers_mqtt.bench import AUTO_OFF_S, Bench, Heard, heating, in_real_time, paced, refusal, settings
from tests.drivers_mqtt.mosquitto import Mosquitto, mosquitto, needs_mosquitto

pytestmark = [needs_mosquitto, pytest.mark.process]


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    with mosquitto(tmp_path) as running:
        yield running


def test_modbus_a_second_service_on_the_same_adapter_is_refused() -> None:
    """The first one goes on."""

    async def scene(room: Room) -> None:
        await room.join()
        room.inbox.wants = ON
        await room.after(3.0)
        refused = await why_refused(ModbusLine(room.settings, room.clock), Listener(room.clock), room.clock)
        assert refused.reason is LinkReason.PORT_IN_USE
        await room.after(3.0)
        assert pins(room) == (True, True, True)

    lived(scene)


def test_modbus_relays_that_are_on_already_belong_to_somebody_else() -> None:
    """Two adapters on one line: the second service finds the first one's contactor on."""

    async def scene(room: Room) -> None:
        for relay in room.modules.relays:
            relay.switch(True, room.modules.now_ms())
        refused = await room.refused()
        assert refused.reason is LinkReason.BUSY
        assert "relay heater and main_contactor" in refused.detail
        assert pins(room) == (True, True, True)

    lived(scene)


def test_mqtt_second_service_is_refused_and_the_first_goes_on(broker: Mosquitto) -> None:
    async def body(on: Bench) -> None:
        await heating(on)
        second = MqttNodes(settings(on.broker.port), on.clock)  # with the very same id
        for _ in range(2):
            session = on.beside(second.run(Heard()), "second service")
            await asyncio.wait({session})
            reason, detail = refusal(session.exception() or AssertionError())
            assert (reason, "somebody else says" in detail) == (LinkReason.BUSY, True)
        await on.wait(5.0)
        assert not on.session.done()
        assert on.on(Output.HEATER)
        assert on.heard.links == 1

    paced(broker, body)


def test_mqtt_foreign_command_ends_the_session_with_everything_off(broker: Mosquitto) -> None:
    async def body(on: Bench) -> None:
        on.start()
        await on.linked()
        await on.say("heater/set", "ON")
        reason, detail = refusal(await on.ended())
        assert reason is LinkReason.BUSY
        assert '"ON" on heater/set' in detail
        await on.wait(0.2)
        assert not on.on(Output.HEATER)

    paced(broker, body)


def test_mqtt_single_foreign_off_is_obeyed_by_the_node_and_ends_nothing(broker: Mosquitto) -> None:
    async def body(on: Bench) -> None:
        await heating(on)
        await on.say("heater/set", "OFF")
        await on.wait(2.0)
        assert not on.session.done()
        assert on.on(Output.HEATER)
        await on.say("heater/set", "OFF")
        assert refusal(await on.ended())[0] is LinkReason.BUSY

    paced(broker, body)


@pytest.mark.slow
def test_mqtt_a_client_that_takes_the_very_same_id_ends_the_session_and_the_heat(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It cannot happen by configuration: each session draws the end of its id."""
    monkeypatch.setattr("kettlebridge.drivers.mqtt.link.secrets.token_hex", lambda _: "d00f")

    async def body(on: Bench) -> None:
        await heating(on)
        taker = on.beside(_taking("bench-d00f", on.broker.port), "taker")
        error = await on.ended()
        assert isinstance(error, LinkError)
        assert error.reason in {LinkReason.BUSY, LinkReason.LOST}, "mosquitto 2.0 hangs up without saying why"
        await on.wait(AUTO_OFF_S)
        assert not on.on(Output.HEATER)
        taker.cancel()

    with mosquitto(tmp_path) as broker:
        at = Broker(host="127.0.0.1", port=broker.port, version=MqttVersion.V5)
        in_real_time(broker, body, broker=at, require_simulated=False)


async def _taking(client_id: str, port: int) -> None:
    process = await asyncio.create_subprocess_exec(
        "mosquitto_sub", "-h", "127.0.0.1", "-p", str(port), "-V", "5", "-i", client_id, "-t", "nothing"
    )
    try:
        await process.wait()
    finally:
        if process.returncode is None:
            process.kill()
            await process.wait()


@pytest.mark.parametrize("by_another_name", [False, True], ids=["same path", "two paths"])
def test_serial_a_second_service_is_refused_and_the_first_goes_on(tmp_path: Path, by_another_name: bool) -> None:
    async def main(clock: PacedClock) -> None:
        world = World(Body.from_figures(capacity_l=25, heater_w=2500), seed=1, probe_offset_c=0.0)
        world.act(AddWater(litres=15.0, temp_c=20.0))
        board = SerialBoard(clock, world, board_in(world), pace=ACCELERATED)
        running = asyncio.create_task(board.run(), name="board")
        other = tmp_path / "by-id"
        other.symlink_to(board.port)
        inbox = Listener(clock)
        inbox.wants = {Output.HEATER: 0, Output.PUMP: 1000, Output.MAIN_CONTACTOR: 1000, Output.BUZZER: 0}
        inbox.line = first = SerialLine(_to(board.port), clock)
        session = asyncio.create_task(first.run(inbox), name="first")
        try:
            await inbox.is_linked.wait()
            await clock.sleep_until(clock.now_s() + 5.0)
            for _ in range(3):
                second = SerialLine(_to(str(other) if by_another_name else board.port), clock)
                with pytest.raises(LinkError) as refused:
                    await second.run(Listener(clock))
                assert refused.value.reason is LinkReason.PORT_IN_USE
            await clock.sleep_until(clock.now_s() + 5.0)
            assert not session.done()
            assert (inbox.board.board.pump_on, inbox.board.board.main_contactor_closed) == (True, True)
        finally:
            for task in (session, running):
                task.cancel()
                await asyncio.wait({task})

    run_paced(main)


def _to(port: str) -> SerialLineSettings:
    probes = {"28A1B2C3040506B4": ProbeName("wall"), "28D4E5F6070809E6": ProbeName("return")}
    return SerialLineSettings(port=port, board_id=Fittings().id, lease_s=3.0, probes=probes, require_simulated=True)
