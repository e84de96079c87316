"""Batches side by side: the same step of each in one row, and the same addition, and the figures of each."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from kettlebridge.brewing.beside_plan import Beside
from kettlebridge.brewing.brewed import AdditionTimes, Brewed
from kettlebridge.model.plan import StepKind
from kettlebridge.model.trace import Series, Span, Trace
from kettlebridge.model.units import S_PER_MIN

T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """One step in one batch, in batch time. `mean_c` and `ended_c`: the control probe, None where it told nothing."""

    begun_s: float
    ended_s: float
    mean_c: float | None
    ended_c: float | None

    @property
    def minutes(self) -> float:
        """How long it lasted."""
        return (self.ended_s - self.begun_s) / S_PER_MIN


@dataclass(frozen=True, slots=True, kw_only=True)
class StepRow:
    """One step; `sides` has a place for each batch, None where that one had no such step."""

    name: str
    kind: StepKind
    sides: tuple[Side | None, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AdditionRow:
    """One addition; minutes before the end of its step, None where a batch had none."""

    name: str
    made_min: tuple[float | None, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FigureRow:
    """One figure; `key` carries the unit."""

    key: str
    came: tuple[float | None, ...]


def step_rows(traces: Sequence[Trace]) -> tuple[StepRow, ...]:
    """The steps of all of them, in the order of the day: of the same kind and name, the first with the first."""
    names: Callable[[Span], Hashable] = lambda span: (span.kind, span.name)  # noqa: E731  # a key, said once
    rows = _rows([list(trace.spans) for trace in traces], names)
    return tuple(
        StepRow(
            name=found.name,
            kind=found.kind,
            sides=tuple(_side(span, trace) for span, trace in zip(row, traces, strict=True)),
        )
        for row in rows
        for found in [next(span for span in row if span is not None)]
    )


def addition_rows(days: Sequence[Brewed]) -> tuple[AdditionRow, ...]:
    """The additions of all of them, by name."""
    names: Callable[[AdditionTimes], Hashable] = lambda each: each.name  # noqa: E731  # as above
    rows = _rows([list(day.additions) for day in days], names)
    return tuple(
        AdditionRow(
            name=next(each.name for each in row if each is not None),
            made_min=tuple(None if each is None else each.made_min for each in row),
        )
        for row in rows
    )


def figure_rows(besides: Sequence[Sequence[Beside]]) -> tuple[FigureRow, ...]:
    """What came of each, figure by figure; one that no batch knows is left out."""
    keys = [row.key for row in max(besides, key=len)]
    came = [{row.key: row.came for row in rows} for rows in besides]
    rows = (FigureRow(key=key, came=tuple(each.get(key) for each in came)) for key in keys)
    return tuple(row for row in rows if any(value is not None for value in row.came))


def _rows(columns: Sequence[list[T]], key: Callable[[T], Hashable]) -> list[list[T | None]]:
    """What has the same key stands in one row. What only a later column has goes behind its neighbour there."""
    order: list[tuple[Hashable, int]] = []
    cells: dict[tuple[Hashable, int], list[T | None]] = {}
    for nth, column in enumerate(columns):
        place = 0
        for numbered, item in _numbered(column, key):
            if numbered not in cells:
                cells[numbered] = [None] * len(columns)
                order.insert(place, numbered)
            cells[numbered][nth] = item
            place = order.index(numbered) + 1
    return [cells[numbered] for numbered in order]


def _numbered(column: list[T], key: Callable[[T], Hashable]) -> list[tuple[tuple[Hashable, int], T]]:
    """Each item with its key, and how many of the same came before it."""
    counts: dict[Hashable, int] = {}
    found = []
    for item in column:
        count = counts.get(key(item), 0)
        counts[key(item)] = count + 1
        found.append(((key(item), count), item))
    return found


def _side(span: Span | None, trace: Trace) -> Side | None:
    if span is None or trace.last is None:
        return None
    ended_s = trace.last.now_s if span.ended_s is None else span.ended_s
    known = _known(trace.series, span.begun_s, ended_s)
    total_c = 0.0
    for value_c in known:
        total_c += value_c
    return Side(
        begun_s=span.begun_s,
        ended_s=ended_s,
        mean_c=total_c / len(known) if known else None,
        ended_c=known[-1] if known else None,
    )


def _known(series: Series, from_s: float, to_s: float) -> list[float]:
    return [
        value_c
        for at_s, value_c in zip(series.at_s, series.temperature_c, strict=True)
        if value_c is not None and from_s <= at_s <= to_s
    ]
