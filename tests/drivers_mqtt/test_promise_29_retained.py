"""Promise 29: what a broker kept is never taken for news, and nothing is left there to be kept."""

from __future__ import annotations

import asyncio

import pytest

from kettlebridge.drivers.mqtt import MqttNodes
from kettlebridge.model.demand import Output
from kettlebridge.model.errors import LinkReason
from tests.drivers_mqtt.bench import AUTO_OFF_S, Bench, Heard, heating, paced, refusal, settings
from tests.drivers_mqtt.mosquitto import Mosquitto, needs_mosquitto

pytestmark = needs_mosquitto


def test_readings_come_with_their_value_and_a_retained_one_never_does(broker: Mosquitto) -> None:
    async def body(on: Bench) -> None:
        on.nodes.nodes[-1].deaf = True
        await on.say("sensors", '{"wall": {"c": 66.0}}', "-r")
        on.start()
        await on.linked()
        await on.wait(2.0)
        assert [sample.value_c for sample in on.heard.samples if sample.value_c is not None] == []
        on.nodes.nodes[-1].deaf = False
        await on.wait(3.0)
        values = [sample.value_c for sample in on.heard.samples if sample.value_c is not None]
        assert len(values) >= 2
        assert values == pytest.approx([19.0] * len(values), abs=1.5)

    paced(broker, body)


def test_retained_on_is_refused_before_anything_is_switched_and_says_how_to_mend_it(broker: Mosquitto) -> None:
    async def body(on: Bench) -> None:
        await on.say("heater/set", "ON", "-r")
        await on.wait(AUTO_OFF_S)
        on.start()
        reason, detail = refusal(await on.ended())
        assert reason is LinkReason.UNSAFE
        assert "relay.heater" in detail
        assert "mosquitto_pub -r -n -t 'heater/set'" in detail
        assert not on.on(Output.HEATER)

    paced(broker, body)


def test_commands_are_never_retained(broker: Mosquitto) -> None:
    async def body(on: Bench) -> None:
        await heating(on)
        late = MqttNodes(settings(on.broker.port), on.clock)
        heard = Heard()
        session = on.beside(late.run(heard), "late listener")
        await asyncio.wait({session})
        assert refusal(session.exception() or AssertionError())[0] is LinkReason.BUSY, "and not UNSAFE"

    paced(broker, body)


@pytest.mark.parametrize("payload", ["ON", "OFF"])
def test_a_retained_state_is_no_answer_of_the_node(broker: Mosquitto, payload: str) -> None:
    async def body(on: Bench) -> None:
        await on.say("heater/state", payload, "-r")
        on.node(Output.HEATER).deaf = True
        on.start()
        reason, detail = refusal(await on.ended())
        assert reason is LinkReason.NODE_AWAY
        assert "relay.heater: its node does not answer" in detail
        assert on.heard.links == 0

    paced(broker, body)


def test_a_retained_command_that_appears_during_a_session_ends_it_or_switches_nothing(broker: Mosquitto) -> None:
    """To whoever listens already a broker passes it on as any other: it is somebody else's command."""

    async def body(on: Bench) -> None:
        on.start()
        await on.linked()
        await on.say("heater/set", "ON", "-r")
        assert refusal(await on.ended())[0] is LinkReason.BUSY
        await on.wait(0.2)
        assert not on.on(Output.HEATER)

    paced(broker, body)
