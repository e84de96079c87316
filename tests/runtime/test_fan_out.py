"""One publisher, many readers, none of whom can hold up the others."""

from __future__ import annotations

import asyncio
import gc
import logging
from collections.abc import AsyncIterator

import pytest

from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.ids import KettleId
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.runtime.fan_out import EventLog, FanOut
from tests.runtime.fakes import COPPER, snapshot


async def next_n(stream: AsyncIterator[Snapshot]) -> int:
    return (await anext(stream)).n


async def test_slow_reader_misses_some_but_never_the_last() -> None:
    fan_out = FanOut()
    slow = fan_out.stream(COPPER)
    for n in range(100):
        fan_out.publish(snapshot(n), ())
    assert await next_n(slow) == 99
    waiting = asyncio.create_task(next_n(slow))
    await asyncio.sleep(0)
    assert not waiting.done()
    fan_out.publish(snapshot(100), ())
    assert await waiting == 100


async def test_new_reader_sees_the_newest_at_once() -> None:
    fan_out = FanOut()
    assert fan_out.latest(COPPER) is None
    fan_out.publish(snapshot(7), ())
    assert await next_n(fan_out.stream(COPPER)) == 7
    assert fan_out.latest(COPPER) == snapshot(7)


async def test_readers_of_two_kettles_hear_of_their_own() -> None:
    fan_out = FanOut()
    tin = fan_out.stream(KettleId("tin"))
    fan_out.publish(snapshot(1), ())
    fan_out.publish(snapshot(2, name=KettleId("tin")), ())
    assert await next_n(tin) == 2


async def test_reader_that_is_let_go_is_forgotten() -> None:
    fan_out = FanOut()
    for _ in range(10):
        fan_out.stream(COPPER)
    gc.collect()
    assert len(fan_out._readers[COPPER]) == 0


class Failing:
    """A listener with a bug."""

    def publish(self, snapshot: Snapshot, events: tuple[Event, ...]) -> None:
        raise KeyError("a bug in a listener")


def test_listener_that_raises_harms_nobody_else(caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.INFO)
    fan_out = FanOut([Failing(), EventLog()])
    fan_out.publish(snapshot(3), (Event(code=EventCode.STAGE, values=(("stage", "ramp"), ("target_c", 66.0))),))
    assert fan_out.latest(COPPER) is not None
    lines = [record.getMessage() for record in caplog.records]
    assert lines == ["kettle copper: tick 3 could not be told", "kettle copper: tick 3: stage stage=ramp target_c=66.0"]
