"""What is kept of a fermenter's probe: once an hour, and what changed, with the beer that is in it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import pytest

from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.fermentation import FermentReading, Heard, ProbeReading
from kettlebridge.model.ids import BatchId, KettleId
from kettlebridge.model.inputs import Inputs
from kettlebridge.model.plan import AskKind, AskStep
from kettlebridge.ports import BatchHeader, BatchSummary
from kettlebridge.runtime.clock import OpenGate
from kettlebridge.runtime.fermenters import EVERY_S, SOONEST_S, FermenterRecord, fermenting
from tests.documents.builders import plan

THIMBLE = KettleId("thimble")
PITCH = AskStep(name="Pitch", what=AskKind.PITCH)


@dataclass
class Clock:
    """Stands until it is moved."""

    now: float = 0.0

    def now_s(self) -> float:
        return self.now

    def synchronised(self) -> bool:
        return True

    def at_utc_s(self) -> float:
        return 1_800_000_000.0 + self.now

    async def sleep_until(self, when_s: float) -> None:
        self.now = when_s

    def gate(self, name: str) -> OpenGate:
        return OpenGate()


@dataclass
class Book:
    """Batches by name, newest first: how each ended, and whether its yeast was pitched."""

    ended: dict[str, BatchState | None]
    pitched: set[str] = field(default_factory=set)
    packaged: set[str] = field(default_factory=set)
    asks_pitch: bool = True

    def batches(self) -> tuple[BatchSummary, ...]:
        return tuple(
            BatchSummary(batch=BatchId(name), kettle=THIMBLE, profile="", started_utc_s=0.0, ended=ended, ticks=1)
            for name, ended in self.ended.items()
        )

    def header(self, batch: BatchId) -> BatchHeader:
        whole = plan()
        if self.asks_pitch:
            whole = replace(whole, profile=replace(whole.profile, steps=(*whole.profile.steps, PITCH)))
        return BatchHeader(batch=batch, kettle=THIMBLE, plan=whole, started_utc_s=0.0, program="0", python="3")

    def ticks(self, batch: BatchId) -> Iterator[tuple[int, Inputs]]:
        return iter(())

    def events(self, batch: BatchId) -> Iterator[tuple[int, Event]]:
        if batch in self.pitched:
            yield 1, Event(code=EventCode.STEP_DONE, values=(("index", 3), ("step", "Pitch"), ("do", "ask")))

    def unfinished(self, kettle: KettleId) -> BatchId | None:
        return None

    def fermentation(self, batch: BatchId) -> tuple[FermentReading, ...]:
        return ()

    def fermenter(self, batch: BatchId) -> tuple[ProbeReading, ...]:
        return ()

    def packaged_utc_s(self, batch: BatchId) -> float | None:
        return 1.0 if batch in self.packaged else None


@dataclass
class Bench:
    """A record with what was kept."""

    book: Book
    clock: Clock = field(default_factory=Clock)
    kept: list[tuple[str, ProbeReading]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.record = FermenterRecord(
            THIMBLE, self.book, lambda batch, reading: self.kept.append((batch, reading)), self.clock
        )

    async def hear(self, after_s: float, at_c: float, gravity_sg: float | None = None) -> bool:
        self.clock.now += after_s
        return await self.record.take(Heard(at_c=at_c, gravity_sg=gravity_sg))


def fermenter() -> Bench:
    return Bench(Book(ended={"beer": BatchState.COMPLETE}, pitched={"beer"}))


async def test_what_stays_as_it_is_is_kept_once_an_hour() -> None:
    bench = fermenter()
    for _ in range(3 * 3600 // 10 + 1):
        await bench.hear(10.0, 20.0, 1.020)
    assert len(bench.kept) == 4
    gaps = [b.at_utc_s - a.at_utc_s for (_, a), (_, b) in zip(bench.kept, bench.kept[1:], strict=False)]
    assert all(EVERY_S <= gap <= EVERY_S + SOONEST_S for gap in gaps)


@pytest.mark.parametrize(("at_c", "gravity_sg"), [(20.5, 1.020), (20.0, 1.019), (20.0, None)])
async def test_what_changed_is_kept_before_its_hour(at_c: float, gravity_sg: float | None) -> None:
    bench = fermenter()
    assert await bench.hear(0.0, 20.0, 1.020)
    assert not await bench.hear(SOONEST_S, 20.4, 1.0204)
    assert await bench.hear(SOONEST_S, at_c, gravity_sg)


async def test_nothing_is_kept_twice_in_five_minutes_however_it_jumps() -> None:
    bench = fermenter()
    for nth in range(600):
        await bench.hear(1.0, 10.0 + nth / 20.0, 1.020)
    assert len(bench.kept) == 2


@pytest.mark.parametrize("heard", [(85.0, 1.020), (-40.0, None), (20.0, 0.0), (20.0, 1.5)])
async def test_what_no_beer_is_like_is_no_reading(heard: tuple[float, float | None]) -> None:
    assert not await fermenter().hear(0.0, *heard)


async def test_readings_go_with_the_beer_that_is_in_it_while_the_next_is_brewed_and_then_with_that() -> None:
    bench = Bench(Book(ended={"next": None, "beer": BatchState.COMPLETE}, pitched={"beer"}))
    await bench.hear(0.0, 20.0)
    bench.book.pitched.add("next")
    await bench.hear(SOONEST_S, 20.0)
    assert [batch for batch, _ in bench.kept] == ["beer", "next"]


async def test_a_beer_that_is_packaged_takes_no_readings_and_neither_does_the_one_before_it() -> None:
    book = Book(ended={"beer": BatchState.COMPLETE, "old": BatchState.COMPLETE}, pitched={"beer", "old"})
    book.packaged.add("beer")
    assert fermenting(book, THIMBLE) is None
    assert not await Bench(book).hear(0.0, 20.0)


def test_a_day_that_was_stopped_after_pitching_ferments_and_one_stopped_before_does_not() -> None:
    assert fermenting(Book(ended={"beer": BatchState.STOPPED}, pitched={"beer"}), THIMBLE) == "beer"
    assert fermenting(Book(ended={"beer": BatchState.STOPPED}), THIMBLE) is None


def test_a_profile_that_never_asks_to_pitch_ferments_once_it_is_complete() -> None:
    assert fermenting(Book(ended={"beer": BatchState.COMPLETE}, asks_pitch=False), THIMBLE) == "beer"
    assert fermenting(Book(ended={"beer": None}, asks_pitch=False), THIMBLE) is None
    assert fermenting(Book(ended={"beer": BatchState.COMPLETE}, asks_pitch=False), KettleId("other")) is None
