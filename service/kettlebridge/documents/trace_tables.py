"""The course of a batch as tables: what stands behind the picture, for the page, the report and screen readers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from markupsafe import Markup

from kettlebridge.documents.amounts import degrees, duration
from kettlebridge.documents.events import line
from kettlebridge.documents.markup import element
from kettlebridge.documents.steps import planned
from kettlebridge.model.plan import Plan
from kettlebridge.model.trace import Span, Trace
from kettlebridge.ports import LocalTime


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table of text."""

    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def steps_table(trace: Trace, plan: Plan, time: LocalTime) -> Table:
    """Every step of the plan: what it should be, and when and how warm it was."""
    lived = {span.index: span for span in trace.spans}
    rows = tuple(
        (step.name, planned(step), *_lived(lived.get(index), trace, time))
        for index, step in enumerate(plan.profile.steps)
    )
    return Table(title="Steps", head=("step", "planned", "begun", "lasted", "coldest", "warmest"), rows=rows)


def events_table(trace: Trace, plan: Plan, time: LocalTime) -> Table:
    """What happened, for people: events that say nothing to them are left out."""
    return Table(title="What happened", head=("time", "what"), rows=tuple(_told(trace, plan, time)))


def table_html(table: Table) -> Markup:
    """As HTML, with its title for a caption."""
    head = element("tr", *(element("th", cell, scope="col") for cell in table.head))
    rows = [element("tr", *(element("td", cell) for cell in row)) for row in table.rows]
    return element("table", element("caption", table.title), element("thead", head), element("tbody", *rows))


def _lived(span: Span | None, trace: Trace, time: LocalTime) -> tuple[str, str, str, str]:
    if span is None or trace.last is None:
        return "", "", "", ""
    ended_s = trace.last.now_s if span.ended_s is None else span.ended_s
    series = trace.series
    known = [
        value_c
        for at_s, value_c in zip(series.at_s, series.temperature_c, strict=True)
        if value_c is not None and span.begun_s <= at_s <= ended_s
    ]
    begun_utc_s = trace.last.at_utc_s - trace.last.now_s + span.begun_s
    return (
        time.hh_mm(begun_utc_s),
        duration(ended_s - span.begun_s),
        degrees(min(known)) if known else "",
        degrees(max(known)) if known else "",
    )


def _told(trace: Trace, plan: Plan, time: LocalTime) -> Iterator[tuple[str, str]]:
    for happening in trace.happenings:
        words = line(happening.event, happening.seen, plan)
        if words is not None:
            yield time.hh_mm(happening.seen.at_utc_s), words
