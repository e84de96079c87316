"""A session with nodes on a real broker, in accelerated time."""

from __future__ import annotations

import asyncio
import logging
from dataclasses import replace

import pytest

from kettlebridge.drivers.mqtt import MqttNodes
from kettlebridge.model.demand import Demand, Output
from kettlebridge.model.errors import LinkError, LinkReason
from kettlebridge.model.mqtt import Broker
from kettlebridge.model.reading import ReadingFault
from kettlebridge.runtime.clock import RealClock
from kettlesim.wire_mqtt.radio import Damage, Radio
from tests.drivers_mqtt.bench import AUTO_OFF_S, WALL, Bench, Heard, heating, paced, refusal, settings
from tests.drivers_mqtt.mosquitto import Mosquitto, needs_mosquitto

pytestmark = needs_mosquitto


def test_orders_reach_the_relays_and_the_report_is_the_nodes_own_word(broker: Mosquitto) -> None:
    async def body(on: Bench) -> None:
        await heating(on)
        assert (on.on(Output.MAIN_CONTACTOR), on.on(Output.PUMP)) == (True, False)
        board = on.heard.reports[-1].board
        assert (board.heater_permille, board.main_contactor_closed, board.pump_on) == (1000, True, False)
        assert 0.0 < board.lease_left_s <= AUTO_OFF_S
        on.press(Output.PUMP)
        await on.heard.until(lambda: on.heard.reports[-1].board.pump_on)  # what somebody did at the plug is seen

    paced(broker, body)


def test_heater_time_is_counted_from_what_the_node_says(broker: Mosquitto) -> None:
    async def body(on: Bench) -> None:
        await heating(on)
        first = on.heard.reports[-1]
        await on.wait(10.0)
        last = on.heard.reports[-1]
        on_s = (last.board.heater_on_ms - first.board.heater_on_ms) / 1000
        assert on_s == pytest.approx(last.taken_s - first.taken_s, abs=0.05)

    paced(broker, body)


def test_without_orders_the_node_switches_off_by_itself(broker: Mosquitto) -> None:
    async def body(on: Bench) -> None:
        await heating(on)
        on.tasks[-1].cancel()  # the ticks
        await on.wait(AUTO_OFF_S + 0.1)
        assert not on.on(Output.HEATER)

    paced(broker, body)


def test_leaving_switches_everything_off_at_once(broker: Mosquitto) -> None:
    async def body(on: Bench) -> None:
        await heating(on)
        on.session.cancel()
        await asyncio.wait({on.session})
        await on.wait(0.2)
        assert not any(on.on(output) for output in (Output.HEATER, Output.PUMP, Output.MAIN_CONTACTOR))

    paced(broker, body)


def test_order_that_follows_from_an_old_report_is_not_sent(broker: Mosquitto) -> None:
    async def body(on: Bench) -> None:
        on.session = on.beside(on.link.run(on.heard), "session")
        await on.linked()
        token = on.heard.reports[-1].board.acted_on
        await on.wait(2.9)
        assert not on.session.done()
        on.press(Output.PUMP)  # a report keeps it alive
        await on.wait(0.3)
        on.link.offer((Demand(output=Output.HEATER, permille=1000, ttl_ms=3000, acted_on=token),))
        on.link.offer((Demand(output=Output.MAIN_CONTACTOR, permille=1000, ttl_ms=3000, acted_on=token),))
        await on.wait(0.3)
        assert not on.on(Output.MAIN_CONTACTOR)

    paced(broker, body)


BAD_PAYLOADS = ("warm", '"warm"', "true", "null", '{"wall": {}}', '{"wall": {"c": "NaN"}}', "[" * 9000, "")


@pytest.mark.parametrize("payload", BAD_PAYLOADS, ids=range(len(BAD_PAYLOADS)))
def test_payload_without_a_number_is_a_fault_named_once_with_probe_and_topic(
    broker: Mosquitto, caplog: pytest.LogCaptureFixture, payload: str
) -> None:
    async def body(on: Bench) -> None:
        on.start()
        await on.linked()
        on.nodes.nodes[-1].deaf = True
        await on.wait(1.0)
        on.heard.samples.clear()
        await on.say("sensors", payload)
        await on.say("sensors", payload)
        await on.wait(0.5)
        assert [sample.fault for sample in on.heard.samples] == [ReadingFault.NOT_A_NUMBER] * 2

    with caplog.at_level(logging.WARNING, "kettlebridge"):
        paced(broker, body)
    lines = [line for line in caplog.messages if "holds no number" in line]
    assert len(lines) == 1
    assert lines[0].startswith("probe wall: sensors#/wall/c holds no number: ")


def test_silent_topic_is_told_as_no_answer_each_second_and_named_once(
    broker: Mosquitto, caplog: pytest.LogCaptureFixture
) -> None:
    async def body(on: Bench) -> None:
        on.start()
        await on.linked()
        on.ticker.wants = (0, False, False)
        await on.wait(2.0)
        on.nodes.nodes[-1].deaf = True
        await on.wait(8.0)
        silent = [sample for sample in on.heard.samples if sample.fault is ReadingFault.NO_ANSWER]
        assert 4 <= len(silent) <= 6
        assert {sample.probe for sample in silent} == {WALL}
        on.nodes.nodes[-1].deaf = False
        await on.wait(2.0)
        assert on.heard.samples[-1].value_c is not None

    with caplog.at_level(logging.INFO, "kettlebridge"):
        paced(broker, body)
    assert [line for line in caplog.messages if line.startswith("probe wall")] == [
        "probe wall: nothing on sensors for 4 s",
        "probe wall tells again",
    ]


def test_node_that_goes_away_ends_the_session_by_name(broker: Mosquitto) -> None:
    async def body(on: Bench) -> None:
        await heating(on)
        on.node(Output.PUMP).cut_power(on.clock.now_s())
        reason, detail = refusal(await on.ended())
        assert reason is LinkReason.NODE_AWAY
        assert detail == 'relay.pump: its node says "offline" on pump/lwt'

    paced(broker, body)


def test_node_that_just_falls_silent_ends_the_session_by_name(broker: Mosquitto) -> None:
    async def body(on: Bench) -> None:
        await heating(on)
        begun_s = on.clock.now_s()
        on.node(Output.HEATER).deaf = True
        reason, detail = refusal(await on.ended())
        assert reason is LinkReason.LOST
        assert "relay.heater: its node does not answer; expected on heater/state" in detail
        assert on.clock.now_s() - begun_s < 4.5
        await on.wait(AUTO_OFF_S)
        assert not on.on(Output.HEATER)

    paced(broker, body)


def test_relay_that_is_on_although_told_to_be_off_is_refused(broker: Mosquitto) -> None:
    async def body(on: Bench) -> None:
        heater = on.node(Output.HEATER)
        switch = heater._switches[heater.fittings.relays[0].load]
        switch.state = lambda: "ON"  # type: ignore[method-assign]  # as the node would read a contact that is stuck
        on.start()
        reason, detail = refusal(await on.ended())
        assert reason is LinkReason.UNSAFE
        assert "relay.heater (heater/set): it is on although it was told to be off" in detail

    paced(broker, body)


def test_hurried_time_is_refused_by_nodes_that_do_not_say_they_are_simulated(broker: Mosquitto) -> None:
    async def body(on: Bench) -> None:
        for node in on.nodes.nodes[:3]:
            node._tell_all = lambda: None  # type: ignore[method-assign]  # as a real one, which knows no such topic
        on.start()
        reason, detail = refusal(await on.ended())
        assert reason is LinkReason.NOT_SIMULATED
        assert "heater/set" in detail

    paced(broker, body)


def test_bad_radio_never_switches_on_what_was_not_wanted(broker: Mosquitto) -> None:
    radio = Radio(Damage(), seed=5)

    async def body(on: Bench) -> None:
        on.start()
        await on.linked()
        radio.damage = Damage(lost_fraction=0.1, doubled_fraction=0.1, late_fraction=0.2, late_s=0.9)
        on.ticker.wants = (0, True, False)
        for _ in range(60):
            await on.wait(1.0)
            assert not on.on(Output.HEATER)
            assert not on.on(Output.MAIN_CONTACTOR)
            if on.session.done():
                assert refusal(await on.ended())[0] is LinkReason.LOST
                on.heard.reports.clear()
                radio.damage, kept = Damage(), radio.damage
                on.session = on.beside(on.link.run(on.heard), "again")
                links = on.heard.links
                await on.heard.until(lambda links=links: on.heard.links > links)  # type: ignore[misc]  # bound now
                radio.damage = kept
        assert min(radio.lost, radio.doubled, radio.late) > 5

    paced(broker, body, radio)


async def test_nothing_that_listens_is_no_broker() -> None:
    nowhere = Broker(host="127.0.0.1", port=1)
    link = MqttNodes(replace(settings(), broker=nowhere), RealClock())
    with pytest.raises(LinkError, match=r"127\.0\.0\.1:1: ") as caught:
        await link.run(Heard())
    assert caught.value.reason is LinkReason.NO_BROKER


def test_probes_alone_make_a_session_without_waiting_for_any_relay(broker: Mosquitto) -> None:
    async def body(on: Bench) -> None:
        on.start()
        begun_s = on.clock.now_s()
        await on.linked()
        assert on.clock.now_s() == begun_s
        await on.wait(3.0)
        assert on.heard.samples[-1].value_c is not None
        on.nodes.nodes[-1].deaf = True
        await on.wait(9.0)
        assert on.heard.samples[-1].fault is ReadingFault.NO_ANSWER
        assert not on.session.done()

    paced(broker, body, relays={})
