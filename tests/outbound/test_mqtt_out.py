"""Telemetry over a real broker, heard by an independent client: mosquitto_sub."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest

from kettlebridge.cli.outside import mqtt_out
from kettlebridge.files.service_file import MqttOutSetting
from kettlebridge.model.mqtt import Broker, MqttVersion
from kettlebridge.outbound.mqtt_out import EVENTS, MqttOut
from kettlebridge.runtime.clock import RealClock
from tests.drivers_mqtt.mosquitto import Mosquitto, mosquitto, needs_mosquitto
from tests.outbound.views import STAGE, THIMBLE, VIEW, view

pytestmark = [needs_mosquitto, pytest.mark.process]

GUARD_S = 60.0


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    with mosquitto(tmp_path) as running:
        yield running


def out_to(
    broker: Mosquitto, *, version: MqttVersion = MqttVersion.V311, prefix: str | None = "homeassistant"
) -> MqttOut:
    at = Broker(host="127.0.0.1", port=broker.port, version=version)
    setting = MqttOutSetting(broker=at, client_id="out", base="kettlebridge", every_s=5.0, discovery_prefix=prefix)
    return mqtt_out(setting, [THIMBLE], RealClock())


class Ear:
    """mosquitto_sub: each message as (topic, payload)."""

    def __init__(self, process: asyncio.subprocess.Process) -> None:
        self._process = process
        self.heard: list[tuple[str, str]] = []

    async def until(self, topic: str, holds: str = "") -> str:
        """The first message on `topic` from now on that contains `holds`."""
        assert self._process.stdout is not None
        async with asyncio.timeout(GUARD_S):
            while True:
                line = (await self._process.stdout.readline()).decode().rstrip("\n")
                name, _, payload = line.partition(" ")
                self.heard.append((name, payload))
                if name == topic and holds in payload:
                    return payload


@asynccontextmanager
async def ear(broker: Mosquitto, *topics: str) -> AsyncIterator[Ear]:
    words = [word for topic in topics for word in ("-t", topic)]
    process = await asyncio.create_subprocess_exec(
        "mosquitto_sub", "-v", "-h", "127.0.0.1", "-p", str(broker.port), *words, stdout=asyncio.subprocess.PIPE
    )
    try:
        yield Ear(process)
    finally:
        process.kill()
        await process.wait()


async def until(holds: Callable[[], bool]) -> None:
    """Looks again and again."""
    async with asyncio.timeout(GUARD_S):
        while not holds():  # noqa: ASYNC110 - nobody tells when a line is logged
            await asyncio.sleep(0.05)


@asynccontextmanager
async def running(out: MqttOut) -> AsyncIterator[asyncio.Task[None]]:
    task = asyncio.create_task(out.run(), name="telemetry")
    try:
        yield task
    finally:
        task.cancel()
        await asyncio.wait({task})


@pytest.mark.parametrize("version", list(MqttVersion))
async def test_status_state_and_events_are_heard(broker: Mosquitto, version: MqttVersion) -> None:
    out = out_to(broker, version=version, prefix=None)
    async with ear(broker, "kettlebridge/#") as heard, running(out):
        await heard.until("kettlebridge/status", "online")
        out.publish(VIEW, (STAGE,))
        assert json.loads(await heard.until("kettlebridge/thimble/event"))["code"] == "stage"
        assert json.loads(await heard.until("kettlebridge/thimble/state"))["temperature_c"] == 66.44


async def test_description_comes_before_the_state_and_again_when_the_hub_starts(broker: Mosquitto) -> None:
    out = out_to(broker)
    out.publish(VIEW, ())
    topic = "homeassistant/device/kettlebridge_thimble/config"
    async with ear(broker, "homeassistant/device/#", "kettlebridge/#") as heard, running(out):
        await heard.until("kettlebridge/thimble/state")
        names = [name for name, _ in heard.heard]
        assert names.index(topic) < names.index("kettlebridge/thimble/state")
        await broker.say("homeassistant/status", "offline")
        await broker.say("homeassistant/status", "online")
        await heard.until(topic)
        await heard.until("kettlebridge/thimble/state")


async def test_who_listens_later_hears_the_retained_state_at_once(broker: Mosquitto) -> None:
    out = out_to(broker)
    async with running(out):
        async with ear(broker, "kettlebridge/#") as first:
            await first.until("kettlebridge/status", "online")
            out.publish(VIEW, (STAGE,))
            await first.until("kettlebridge/thimble/state")
        async with ear(broker, "kettlebridge/#") as late:
            await late.until("kettlebridge/thimble/state")
            assert "kettlebridge/thimble/event" not in [name for name, _ in late.heard]


async def test_leaving_says_offline(broker: Mosquitto) -> None:
    async with ear(broker, "kettlebridge/status") as heard:
        async with running(out_to(broker)):
            await heard.until("kettlebridge/status", "online")
        await heard.until("kettlebridge/status", "offline")


async def test_states_are_told_once_a_period_and_at_once_when_something_happens(broker: Mosquitto) -> None:
    out = out_to(broker)
    async with ear(broker, "kettlebridge/thimble/#", "kettlebridge/status") as heard, running(out):
        await heard.until("kettlebridge/status", "online")
        for second in range(4):
            out.publish(view(now_s=1200.0 + second, n=1200 + second), ())
        out.publish(view(temperature_c=70.0), (STAGE,))
        await heard.until("kettlebridge/thimble/state", "70.0")
        states = [name for name, _ in heard.heard if name == "kettlebridge/thimble/state"]
        assert len(states) <= 2


async def test_broker_that_went_away_is_come_back_to_and_old_events_are_not_sent(
    broker: Mosquitto, caplog: pytest.LogCaptureFixture
) -> None:
    out = out_to(broker)
    async with running(out):
        async with ear(broker, "kettlebridge/#") as heard:
            await heard.until("kettlebridge/status", "online")
        broker.stop()
        await until(lambda: "is gone" in caplog.text)
        out.publish(VIEW, (STAGE,))
        assert out.dropped == 1
        broker.start()
        async with ear(broker, "kettlebridge/#") as heard:
            await heard.until("kettlebridge/thimble/state")
            out.publish(view(n=1201), (STAGE,))
            await heard.until("kettlebridge/thimble/event")
            events = [name for name, _ in heard.heard if name == "kettlebridge/thimble/event"]
            assert len(events) == 1


async def test_flood_of_events_is_bounded_and_counted(broker: Mosquitto) -> None:
    out = out_to(broker)
    async with ear(broker, "kettlebridge/#") as heard, running(out):
        await heard.until("kettlebridge/status", "online")
        for _ in range(EVENTS + 10):  # without a turn of the loop in between
            out.publish(VIEW, (STAGE,))
        assert out.dropped == 10
        await heard.until("kettlebridge/thimble/state")
