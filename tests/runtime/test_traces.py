"""The course of a batch is the same whether it was watched, folded from the record, or half of each."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache

from kettlebridge.app import CORE
from kettlebridge.core.snapshot import snapshot
from kettlebridge.core.state import State
from kettlebridge.files.examples import example_kettles
from kettlebridge.files.kettle_file import load_kettle
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.ids import BatchId, KettleId
from kettlebridge.model.inputs import Inputs
from kettlebridge.model.plan import AskKind, AskStep, HeatStep, Plan, Profile, Water
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.ports import BatchHeader, BatchSummary
from kettlebridge.runtime.traces import EVERY_S, Course, TraceBook
from kettlebridge.simulated.virtual_day import Second, VirtualDay

BATCH = BatchId("thimble-1")
SEAM_N = 200


@cache
def plan() -> Plan:
    (thimble,) = (path for path in example_kettles() if path.stem == "thimble")
    steps = (
        AskStep(name="Fill", what=AskKind.FILL),
        HeatStep(name="Warm", to_c=24.0),
        AskStep(name="Empty", what=AskKind.EMPTY),
    )
    return Plan(
        kettle=load_kettle(thimble).kettle, profile=Profile(name="Short day", water=Water(fill_l=5.0), steps=steps)
    )


@cache
def the_day() -> tuple[Second, ...]:
    return tuple(VirtualDay(plan(), seed=3).seconds())


def seen(second: Second) -> Snapshot:
    return snapshot(plan(), BATCH, second.state)


class Recorded:
    """The record of that day."""

    def batches(self) -> tuple[BatchSummary, ...]:
        return ()

    def header(self, batch: BatchId) -> BatchHeader:
        return BatchHeader(
            batch=batch, kettle=KettleId("thimble"), plan=plan(), started_utc_s=0.0, program="0", python="3"
        )

    def ticks(self, batch: BatchId) -> Iterator[tuple[int, Inputs]]:
        return ((n, second.inputs) for n, second in enumerate(the_day()))

    def events(self, batch: BatchId) -> Iterator[tuple[int, Event]]:
        return ((n, event) for n, second in enumerate(the_day()) for event in second.events)

    def fermentation(self, batch: BatchId) -> tuple[()]:
        return ()

    def unfinished(self, kettle: KettleId) -> BatchId | None:
        return None


def book(from_n: int | None) -> TraceBook[State]:
    made = TraceBook(CORE, Recorded())
    if from_n is not None:
        for second in the_day()[from_n:]:
            made.publish(seen(second), second.events)
    return made


async def test_a_watched_course_has_a_point_every_ten_seconds_and_every_event() -> None:
    course = await book(0).of(BATCH)
    gaps = {round(b - a, 6) for a, b in zip(course.series.at_s, course.series.at_s[1:], strict=False)}
    assert gaps == {EVERY_S}
    assert [span.name for span in course.spans] == ["Fill", "Warm", "Empty"]
    assert all(span.ended_s is not None for span in course.spans)
    assert [happening.event for happening in course.happenings] == [event for _, event in Recorded().events(BATCH)]
    assert course.series.target_c[-3:] != (None, 24.0, None)
    assert 24.0 in course.series.target_c


async def test_a_batch_of_another_day_is_folded_to_the_same_course() -> None:
    watched, folded = await book(0).of(BATCH), await book(None).of(BATCH)
    assert folded.spans == watched.spans
    assert [each.event for each in folded.happenings] == [each.event for each in watched.happenings]
    assert folded.series == watched.series


async def test_a_batch_taken_up_again_has_the_course_from_before_too() -> None:
    joined, whole = await book(SEAM_N).of(BATCH), await book(0).of(BATCH)
    assert [(span.name, span.begun_s) for span in joined.spans] == [(span.name, span.begun_s) for span in whole.spans]
    assert joined.spans == whole.spans
    assert [each.event for each in joined.happenings] == [each.event for each in whole.happenings]
    assert joined.series.at_s == tuple(sorted(set(joined.series.at_s)))
    assert joined.series.at_s[0] == whole.series.at_s[0]


def test_a_probe_that_is_silent_leaves_a_gap_instead_of_its_last_word() -> None:
    second = the_day()[50]
    view = seen(second)
    silent = replace(view, probes=tuple(replace(probe, age_s=60.0) for probe in view.probes))
    course = Course(BATCH)
    course.add(silent, (Event(code=EventCode.LINK),))
    assert course.trace().series.temperature_c == (None,)
    course.add(replace(view, now_s=view.now_s + EVERY_S), ())
    assert course.trace().series.temperature_c == (None, view.temperature_c)
