"""One publisher, many readers, none of whom can hold up the others."""

from __future__ import annotations

import asyncio
import gc
from collections.abc import AsyncIterator

import pytest

from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.ids import KettleId
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.runtime.fan_out import FanOut
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


class Hearing:
    """A listener that keeps what it is told."""

    def __init__(self) -> None:
        self.events: list[Event] = []

    def publish(self, snapshot: Snapshot, events: tuple[Event, ...]) -> None:
        self.events += events


def test_listener_that_raises_harms_nobody_else(caplog: pytest.LogCaptureFixture) -> None:
    heard = Hearing()
    fan_out = FanOut([Failing(), heard])
    stage = Event(code=EventCode.STAGE, values=(("stage", "ramp"), ("target_c", 66.0)))
    fan_out.publish(snapshot(3), (stage,))
    assert fan_out.latest(COPPER) is not None
    assert heard.events == [stage]
    assert [record.getMessage() for record in caplog.records] == ["kettle copper: tick 3 could not be told"]
