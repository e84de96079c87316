"""A probe in a fermenter, on a real mosquitto: its readings are in the record of the beer, with no day running."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import aclosing, asynccontextmanager
from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest

from kettlebridge import __version__
from kettlebridge.app import JOURNAL_NAME, fermentation_in
from kettlebridge.cli.fermenters import fermenters
from kettlebridge.drivers.mqtt.listening import listen
from kettlebridge.files.examples import config_folder
from kettlebridge.files.kettle_file import load_kettle
from kettlebridge.journal.queries import SqliteRecords
from kettlebridge.journal.store import open_journal
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.errors import LinkError
from kettlebridge.model.fermentation import Heard, ProbeReading
from kettlebridge.model.ids import BatchId
from kettlebridge.model.mqtt import Broker, Place, ProbeWire
from kettlebridge.ports import BatchHeader
from kettlebridge.runtime.clock import OpenGate, RealClock
from tests.documents.builders import plan
from tests.drivers_mqtt.mosquitto import Mosquitto, needs_mosquitto

pytestmark = needs_mosquitto

GUARD_S = 20.0
BEER = BatchId("thimble-1")
TOPIC = "cellar/float"
WIRE = ProbeWire(place=Place(topic=TOPIC, pointer="/c"), gravity=Place(topic=TOPIC, pointer="/sg"))


async def brewed(folder: Path, batch: BatchId = BEER) -> None:
    """A day in the record that is over."""
    async with open_journal(folder / JOURNAL_NAME, gate=OpenGate(), program="0") as journal:
        whole = plan()
        header = BatchHeader(
            batch=batch, kettle=whole.kettle.name, plan=whole, started_utc_s=1.0, program="0", python="3"
        )
        await journal.begin(header)
        await journal.end(batch, BatchState.COMPLETE)


@asynccontextmanager
async def served(folder: Path, path: Path) -> AsyncIterator[SqliteRecords]:
    """What `serve` runs beside its kettles, for a kettle file with that probe."""
    file = load_kettle(path)
    async with fermenters([file], folder, RealClock()):
        yield SqliteRecords(folder / JOURNAL_NAME, program=__version__)


async def told_until(broker: Mosquitto, records: SqliteRecords, payload: str) -> tuple[ProbeReading, ...]:
    """Said again until it is on record, as such probes do."""
    async with asyncio.timeout(GUARD_S):
        while not (found := await asyncio.to_thread(records.fermenter, BEER)):
            await broker.say(TOPIC, payload)
            await asyncio.sleep(0.05)
    return found


@pytest.fixture
def kettle(tmp_path: Path, broker: Mosquitto) -> Path:
    """The thimble, with a float in its fermenter on another board."""
    text = (config_folder() / "kettles" / "thimble.toml").read_text(encoding="utf-8")
    text += (
        f'\n[also.cellar]\nkind = "mqtt"\nhost = "127.0.0.1"\nport = {broker.port}\n'
        f'\n[probe.float]\nsource = "{TOPIC}#/c"\nrole = "fermenter"\nbridge = "cellar"\n'
        f'\n[probe.float.mqtt]\nmax_age_s = 3600\ngravity_sg = "{TOPIC}#/sg"\n'
    )
    path = tmp_path / "thimble.toml"
    path.write_text(text, encoding="utf-8")
    return path


async def test_what_the_probe_tells_is_kept_with_the_beer_while_no_day_runs(
    tmp_path: Path, broker: Mosquitto, kettle: Path
) -> None:
    await brewed(tmp_path)
    async with served(tmp_path, kettle) as records:
        (kept,) = await told_until(broker, records, '{"c": 19.5, "sg": 1.034}')
        assert (kept.at_c, kept.gravity_sg) == (19.5, 1.034)
        for _ in range(5):
            await broker.say(TOPIC, '{"c": 25.0, "sg": 1.010}')
        await asyncio.sleep(0.2)
        assert len(records.fermenter(BEER)) == 1, "no two within five minutes"


async def test_a_packaged_beer_takes_no_more(tmp_path: Path, broker: Mosquitto, kettle: Path) -> None:
    await brewed(tmp_path)
    fermentation_in(tmp_path).set_packaged(BEER, 2.0)
    async with served(tmp_path, kettle) as records:
        async with aclosing(listen(Broker(host="127.0.0.1", port=broker.port), "ear", WIRE)) as ear:
            heard = asyncio.ensure_future(anext(ear))
            async with asyncio.timeout(GUARD_S):
                while not heard.done():
                    await broker.say(TOPIC, '{"c": 19.5}')
                    await asyncio.sleep(0.05)
        await asyncio.sleep(0.2)
        assert records.fermenter(BEER) == ()


async def test_what_the_broker_had_kept_is_no_reading(broker: Mosquitto) -> None:
    await broker.say(TOPIC, '{"c": 3.0, "sg": 1.090}', "-r")
    async with aclosing(listen(Broker(host="127.0.0.1", port=broker.port), "ear", WIRE)) as ear:
        first = asyncio.ensure_future(anext(ear))
        async with asyncio.timeout(GUARD_S):
            while not first.done():
                await broker.say(TOPIC, '{"c": 19.5, "sg": 1.034}')
                await asyncio.sleep(0.05)
        assert await first == Heard(at_c=19.5, gravity_sg=1.034)


async def test_gravity_from_a_topic_of_its_own_goes_with_the_next_temperature(broker: Mosquitto) -> None:
    apart = replace(WIRE, place=Place(topic=TOPIC), gravity=Place(topic="cellar/sg"))
    async with aclosing(listen(Broker(host="127.0.0.1", port=broker.port), "ear", apart)) as ear:
        async with asyncio.timeout(GUARD_S):
            while True:
                coming = asyncio.ensure_future(anext(ear))
                while not coming.done():
                    await broker.say("cellar/sg", "1.020")
                    await broker.say(TOPIC, "18.0")
                    await asyncio.sleep(0.05)
                if (await coming).gravity_sg is not None:
                    break
        assert await coming == Heard(at_c=18.0, gravity_sg=1.020)


async def test_a_broker_that_goes_ends_the_listening_and_is_heard_again_when_it_is_back(broker: Mosquitto) -> None:
    hear = partial(listen, Broker(host="127.0.0.1", port=broker.port), "ear", WIRE)
    async with aclosing(hear()) as ear:
        waits = asyncio.ensure_future(anext(ear))
        await asyncio.sleep(0.5)
        broker.stop()
        with pytest.raises(LinkError):
            await waits
    broker.start()
    async with aclosing(hear()) as ear:
        waits = asyncio.ensure_future(anext(ear))
        async with asyncio.timeout(GUARD_S):
            while not waits.done():
                await broker.say(TOPIC, '{"c": 20.0}')
                await asyncio.sleep(0.05)
        assert await waits == Heard(at_c=20.0)
