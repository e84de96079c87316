"""What is drawn for many is drawn once: the parts of a kettle's page, and the trace of its day."""

from __future__ import annotations

import asyncio
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from hashlib import blake2b
from types import MappingProxyType

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape

from kettlebridge.documents.ahead import coming
from kettlebridge.documents.report import report_page
from kettlebridge.documents.trace_svg import NARROW, WIDTH, Coming, trace_svg
from kettlebridge.documents.trace_tables import events_table, steps_table
from kettlebridge.model.command import CommandKind
from kettlebridge.model.ids import BatchId, KettleId
from kettlebridge.model.plan import Plan
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.web.surroundings import Plans, Surroundings
from kettlebridge.web.view import KettleView, kettle_view

PARTS = ("note", "now", "alarms", "onward", "calls", "first", "day", "facts", "further")
"""Parts of a kettle's page, each a template and an element of that id; only one that changed is sent."""

MARK_BYTES = 8
TRACE_EVERY_S = 5.0
"""Real seconds for which a drawn trace is good enough."""

TRACES_KEPT = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """What the forms of a page carry besides their fields, for one visitor; empty for all, and a script fills it in."""

    key: str = ""
    seen: str = ""
    token: str = ""


FOR_ALL = Form()


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """The parts of one snapshot as HTML, and a mark of each: who shows a part with that mark need not be sent it."""

    view: KettleView
    note: str
    parts: Mapping[str, str]
    marks: Mapping[str, str]
    _news: dict[str, bytes] = field(default_factory=dict)

    def news(self, held: str) -> bytes:
        """The event for pages that hold parts with these marks: the parts that are others by now. Made once for all."""
        if held not in self._news:
            shown = marks_of(held)
            changed = {name: html for name, html in self.parts.items() if shown.get(name) != self.marks[name]}
            told = {"n": self.view.n, "at": self.view.at, "batch": self.view.batch, "parts": changed}
            self._news[held] = f"id: {self.held}\ndata: {json.dumps(told, separators=(',', ':'))}\n\n".encode()
        return self._news[held]

    @property
    def held(self) -> str:
        """The marks as a page keeps them, and says them when it asks for news."""
        return ".".join(self.marks.values())


def marks_of(held: str) -> dict[str, str]:
    """The marks that a page says it shows; none, where it does not say one for every part."""
    marks = held.split(".")
    return dict(zip(PARTS, marks, strict=True)) if len(marks) == len(PARTS) else {}


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnTrace:
    """A trace as HTML, drawn at `real_s`."""

    html: str
    real_s: float


BEFORE_A_UNIT = re.compile(r"(?<=\d) (?=(?:°C|L|min|h|s|kg|g|kWh|kW|W|%|IBU|EBC)(?!\w))")


def together(value: object) -> object:
    """Text in which no line ends between a figure and its unit; what is HTML already is left as it is."""
    return BEFORE_A_UNIT.sub("\N{NO-BREAK SPACE}", value) if type(value) is str else value


def environment() -> Environment:
    """The templates; a name that is missing is an error, and text is escaped everywhere."""
    made = Environment(
        loader=PackageLoader("kettlebridge.web"),
        autoescape=select_autoescape(default=True),
        undefined=StrictUndefined,
        finalize=together,
        auto_reload=False,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals |= {"confirm": CommandKind.CONFIRM, "acknowledge": CommandKind.ACKNOWLEDGE}
    return made


class Pictures:
    """Draws for one process; kept for each kettle, the newest alone."""

    def __init__(self, around: Surroundings) -> None:
        self.templates = environment()
        self._around = around
        self.plans = Plans(around.records)
        self._drawn: dict[KettleId, Picture] = {}
        self._traces: dict[tuple[BatchId, bool], DrawnTrace] = {}

    def of(self, snapshot: Snapshot) -> Picture:
        """The parts of a snapshot, drawn once for everybody who asks."""
        drawn = self._drawn.get(snapshot.kettle)
        if drawn is None or drawn.view.n != snapshot.n or drawn.view.batch != snapshot.batch:
            spans = self._around.traces.spans(snapshot.batch)
            plan = None if snapshot.nothing_chosen else self.plans.of(snapshot.batch)
            view = kettle_view(snapshot, plan, spans, self._around.time)
            if self._around.next_batches is None:
                view = replace(view, next="")
            note = self._around.note()
            parts = self._parts(view, note, FOR_ALL)
            marks = {name: blake2b(html.encode(), digest_size=MARK_BYTES).hexdigest() for name, html in parts.items()}
            drawn = Picture(view=view, note=note, parts=MappingProxyType(parts), marks=MappingProxyType(marks))
            self._drawn[snapshot.kettle] = drawn
        return drawn

    def filled(self, picture: Picture, form: Form) -> Mapping[str, str]:
        """The parts of a picture for one visitor, whose forms may be posted as they are, without a script."""
        return self._parts(picture.view, picture.note, form)

    def _parts(self, view: KettleView, note: str, form: Form) -> dict[str, str]:
        said = {"view": view, "note": note, "form": form}
        return {name: self.templates.get_template(f"part_{name}.html").render(said).strip() for name in PARTS}

    async def trace(self, batch: BatchId, *, narrow: bool) -> str:
        """The picture of the day with its tables. Raises JournalError."""
        now_s = asyncio.get_running_loop().time()
        drawn = self._traces.get((batch, narrow))
        if drawn is None or now_s - drawn.real_s > TRACE_EVERY_S:
            course = await self._around.traces.of(batch)
            plan, time = self.plans.of(batch), self._around.time
            tables = () if plan is None else (steps_table(course, plan, time), events_table(course, plan, time))
            width = NARROW if narrow else WIDTH
            svg = trace_svg(course, time, width=width, coming=self._coming(batch, plan))
            html = self.templates.get_template("trace.html").render(svg=svg, tables=tables)
            drawn = self._traces[batch, narrow] = DrawnTrace(html=html, real_s=now_s)
            for old in list(self._traces)[:-TRACES_KEPT]:
                del self._traces[old]
        return drawn.html

    def _coming(self, batch: BatchId, plan: Plan | None) -> tuple[Coming, ...]:
        """What is ahead of a batch at work."""
        around = self._around
        seen = next((one for one in map(around.snapshots.latest, around.kettles) if one and one.batch == batch), None)
        return () if seen is None or plan is None else coming(seen, plan)

    async def report(self, batch: BatchId) -> str:
        """The record of a batch as a page of its own. Raises JournalError."""
        course = await self._around.traces.of(batch)
        header = await asyncio.to_thread(self._around.records.header, batch)
        return report_page(course, header, self._around.time)
