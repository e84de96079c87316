"""All off on a broker without a session."""

from __future__ import annotations

import pytest

from kettlebridge.drivers.mqtt.switching_off import switch_off
from kettlebridge.model.demand import Output
from kettlebridge.model.errors import LinkError, LinkReason
from kettlebridge.runtime.clock import RealClock
from tests.drivers_mqtt.bench import LOADS, Bench, in_real_time, settings
from tests.drivers_mqtt.mosquitto import Mosquitto


def test_every_node_is_told_off(broker: Mosquitto) -> None:
    async def scene(bench: Bench) -> None:
        for output in LOADS:
            bench.press(output)
        assert all(bench.on(output) for output in LOADS)
        await switch_off(settings(broker.port), RealClock())
        await bench.wait(0.3)
        assert not any(bench.on(output) for output in (Output.HEATER, Output.PUMP, Output.MAIN_CONTACTOR))

    in_real_time(broker, scene)


async def test_a_broker_that_is_not_there_is_told_of() -> None:
    with pytest.raises(LinkError) as raised:
        await switch_off(settings(1), RealClock())
    assert raised.value.reason is LinkReason.NO_BROKER
