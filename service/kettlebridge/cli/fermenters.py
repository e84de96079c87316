"""Probes in fermenters, listened to beside the kettles: a beer is still told of when its day in the kettle is over."""

from __future__ import annotations

from collections.abc import AsyncIterator, Iterator, Sequence
from contextlib import AsyncExitStack, asynccontextmanager
from functools import partial
from pathlib import Path

from kettlebridge.app import fermentation_in, records_in
from kettlebridge.files.kettle_file import KettleFile
from kettlebridge.files.mqtt_bridge import MqttBridge
from kettlebridge.model.kettle import Probe, ProbeRole
from kettlebridge.ports import Clock
from kettlebridge.runtime.fermenters import FermenterRecord, keep_listening
from kettlebridge.runtime.kept_tasks import ended, kept


@asynccontextmanager
async def fermenters(files: Sequence[KettleFile], folder: Path, clock: Clock) -> AsyncIterator[None]:
    """Listens meanwhile, to every probe of that role on a broker."""
    async with AsyncExitStack() as stack:
        for file in files:
            for probe, bridge in _in_fermenters(file):
                from kettlebridge.drivers.mqtt.listening import listen  # noqa: PLC0415 - only where a file names one

                name = f"{file.kettle.name}: probe {probe.name} in the fermenter"
                keep = fermentation_in(folder).add_probe_reading
                record = FermenterRecord(file.kettle.name, records_in(folder), keep, clock)
                hear = partial(listen, bridge.broker, bridge.client_id, bridge.probes[probe.name])
                stack.push_async_callback(ended, kept(partial(keep_listening, name, hear, record, clock), name, clock))
        yield


def _in_fermenters(file: KettleFile) -> Iterator[tuple[Probe, MqttBridge]]:
    for board in file.boards:
        for probe in board.probes:
            if probe.role is ProbeRole.FERMENTER and isinstance(board.bridge, MqttBridge):
                yield probe, board.bridge
