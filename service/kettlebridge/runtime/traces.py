"""The course of each batch: of those at work as they go, of others folded from the record when somebody asks."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from dataclasses import replace
from typing import Generic

from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.ids import BatchId
from kettlebridge.model.plan import StepKind
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.model.trace import Happening, Series, Span, Trace
from kettlebridge.ports import BatchHeader, Records
from kettlebridge.runtime.fold import Core, S

EVERY_S = 10.0
"""Batch time between two points: a kettle of ten litres on 3 kW warms 0.7 °C in it."""

GAP_S = 3 * EVERY_S
HAPPENINGS = 4000
"""Kept of one batch; a day has some hundred. Further ones are in the record alone."""

KEPT = 8
"""Batches of this process whose course is kept."""


class Course:
    """The course of one batch, grown tick by tick."""

    def __init__(self, batch: BatchId) -> None:
        self.batch = batch
        self.first_n: int | None = None
        self.spans: list[Span] = []
        self.happenings: list[Happening] = []
        self._rows: list[tuple[float, float | None, float | None, float]] = []
        self._last: Snapshot | None = None

    def add(self, snapshot: Snapshot, events: tuple[Event, ...]) -> None:
        """The next tick."""
        if self.first_n is None:
            self.first_n = snapshot.n
        self._last = snapshot
        if not self._rows or snapshot.now_s - self._rows[-1][0] >= EVERY_S:
            target_c = None if snapshot.step is None else snapshot.step.target_c
            known_c = snapshot.temperature_c if _is_fresh(snapshot) else None
            self._rows.append((snapshot.now_s, known_c, target_c, snapshot.outputs.heater_permille / 1000.0))
        seen = replace(snapshot, forecast=None) if events else snapshot  # what was once expected is not its course
        for event in events:
            if event.code is EventCode.STEP_BEGUN:
                self._begun(event, snapshot.now_s)
            elif event.code is EventCode.STEP_DONE:
                self._close(snapshot.now_s)
            if len(self.happenings) < HAPPENINGS:
                self.happenings.append(Happening(event=event, seen=seen))

    def trace(self, before: Trace | None = None) -> Trace:
        """As it is now, behind what was `before` it."""
        at_s, temperature_c, target_c, heater = zip(*self._rows, strict=True) if self._rows else ((), (), (), ())
        mine = Trace(
            batch=self.batch,
            series=Series(
                at_s=at_s, temperature_c=temperature_c, target_c=target_c, heater_fraction=heater, gap_s=GAP_S
            ),
            spans=tuple(self.spans),
            happenings=tuple(self.happenings),
            last=self._last,
        )
        return mine if before is None else _joined(before, mine)

    def _begun(self, event: Event, now_s: float) -> None:
        self._close(now_s)
        index, name, kind = event.get("index"), event.get("step"), event.get("do")
        if isinstance(index, int):
            self.spans.append(Span(index=index, name=str(name), kind=StepKind(kind), begun_s=now_s))

    def _close(self, now_s: float) -> None:
        if self.spans and self.spans[-1].ended_s is None:
            self.spans[-1] = replace(self.spans[-1], ended_s=now_s)


def _is_fresh(snapshot: Snapshot) -> bool:
    """Whether the probe that is shown has told lately: what was last known is no reading."""
    return any(
        probe.value_c == snapshot.temperature_c and probe.age_s is not None and probe.age_s <= EVERY_S
        for probe in snapshot.probes
    )


def _joined(before: Trace, after: Trace) -> Trace:
    """One behind the other."""
    one, two = before.series, after.series
    return Trace(
        batch=after.batch,
        series=Series(
            at_s=one.at_s + two.at_s,
            temperature_c=one.temperature_c + two.temperature_c,
            target_c=one.target_c + two.target_c,
            heater_fraction=one.heater_fraction + two.heater_fraction,
            gap_s=two.gap_s,
        ),
        spans=_spans_joined(before.spans, after.spans),
        happenings=before.happenings + after.happenings,
        last=after.last or before.last,
    )


def _spans_joined(before: tuple[Span, ...], after: tuple[Span, ...]) -> tuple[Span, ...]:
    """A step that was open at the seam ended with the first of the second half, if at all."""
    if before and before[-1].ended_s is None and after:
        before = (*before[:-1], replace(before[-1], ended_s=after[0].begun_s))
    return before + after


def folded(core: Core[S], header: BatchHeader, records: Records, before_n: int | None = None) -> Trace:
    """The course of a recorded batch, of its first `before_n` ticks (None: all). Raises JournalError."""
    course = Course(header.batch)
    for snapshot, events in _lived(core, header, records):
        if before_n is not None and snapshot.n >= before_n:
            break
        course.add(snapshot, events)
    return course.trace()


def _lived(core: Core[S], header: BatchHeader, records: Records) -> Iterator[tuple[Snapshot, tuple[Event, ...]]]:
    """Only where something happened, or a point is due, is a view worth its making."""
    state = core.initial(header.plan)
    due_s = float("-inf")
    for _, inputs in records.ticks(header.batch):
        ticked = core.tick(header.plan, state, inputs)
        state = ticked.state
        if ticked.events or inputs.now_s >= due_s:
            if inputs.now_s >= due_s:
                due_s = inputs.now_s + EVERY_S
            yield core.snapshot(header.plan, header.batch, state), ticked.events


class TraceBook(Generic[S]):
    """The port Traces, and a publisher. What was before this process is folded once, in a thread."""

    def __init__(self, core: Core[S], records: Records) -> None:
        self._core = core
        self._records = records
        self._courses: dict[BatchId, Course] = {}
        self._before: dict[BatchId, Trace] = {}
        self._folding = asyncio.Lock()

    def publish(self, snapshot: Snapshot, events: tuple[Event, ...]) -> None:
        """A finished tick."""
        course = self._courses.get(snapshot.batch)
        if course is None:
            course = self._courses[snapshot.batch] = Course(snapshot.batch)
            for old in list(self._courses)[:-KEPT]:
                del self._courses[old]
                self._before.pop(old, None)
        course.add(snapshot, events)

    async def of(self, batch: BatchId) -> Trace:
        """The course of any batch so far. Raises JournalError."""
        course = self._courses.get(batch)
        if course is None:
            return await self._fold(batch, None)
        if course.first_n is not None and course.first_n > 1 and batch not in self._before:
            self._before[batch] = await self._fold(batch, course.first_n)
        return course.trace(self._before.get(batch))

    def spans(self, batch: BatchId) -> tuple[Span, ...]:
        """Of a batch at work: since this process began, and from before where that was folded already."""
        course, before = self._courses.get(batch), self._before.get(batch)
        if course is None:
            return ()
        mine = tuple(course.spans)
        return mine if before is None else _spans_joined(before.spans, mine)

    async def _fold(self, batch: BatchId, before_n: int | None) -> Trace:
        """One at a time: it takes a processor."""
        async with self._folding:
            header = await asyncio.to_thread(self._records.header, batch)
            return await asyncio.to_thread(folded, self._core, header, self._records, before_n)
