"""A name that looks like markup stays text in every document, wherever a name may stand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from kettlebridge.brewing.brew_sheet import brew_sheet
from kettlebridge.brewing.day import Day
from kettlebridge.brewing.side_by_side import AdditionRow, step_rows
from kettlebridge.documents.compare import Compared, compare_page
from kettlebridge.documents.markup import element, joined, lone, page
from kettlebridge.documents.report import report_page
from kettlebridge.documents.sheet import sheet_page
from kettlebridge.documents.trace_svg import Coming, trace_svg
from kettlebridge.files.local_time import zone_time
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.ids import BatchId, KettleId
from kettlebridge.model.plan import Plan
from kettlebridge.model.trace import Happening, Trace
from kettlebridge.ports import BatchHeader
from tests.brewing.sheets import kettle, recipe
from tests.documents.builders import plan, snapshot
from tests.documents.test_trace_svg import a_trace

UTC = zone_time("UTC")
NAME = """</text></style>'"><script>alert(1)</script><img src=x onerror="alert(2)">&amp;"""
LONG = 60.0
"""Minutes of a step in which the whole name has room beside its band."""


class Reader(HTMLParser):
    """Every tag, every attribute, and all the text of a document."""

    def __init__(self, document: str) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.attributes: set[str] = set()
        self.values: list[str] = []
        self.text = ""
        self.feed(document)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.attributes |= {name for name, _ in attrs}
        self.values += [value or "" for _, value in attrs]

    def handle_data(self, data: str) -> None:
        self.text += data


def hostile_sheet() -> str:
    named = recipe("corvane_pale")
    named = replace(
        named,
        name=NAME,
        style=NAME,
        notes=NAME,
        fermentables=tuple(replace(one, name=NAME) for one in named.fermentables),
        hops=tuple(replace(one, name=NAME) for one in named.hops),
        additions=tuple(replace(one, name=NAME) for one in named.additions),
        yeast=replace(named.yeast, name=NAME),
    )
    return sheet_page(brew_sheet(named, replace(kettle("saddle"), name=KettleId(NAME)), Day()))


def hostile_plan() -> Plan:
    day = plan()
    steps = tuple(replace(step, name=NAME) for step in day.profile.steps)
    return replace(
        day,
        kettle=replace(day.kettle, name=KettleId(NAME)),
        profile=replace(day.profile, name=NAME, steps=steps),
    )


def hostile_trace() -> Trace:
    said = (("addition", NAME), ("step", NAME), ("planned_before_end_min", 1.0), ("made_before_end_min", 1.0))
    seen = replace(snapshot(), now_s=300.0)
    made = Happening(event=Event(code=EventCode.ADDITION_MADE, values=said), seen=seen)
    return replace(a_trace(name=NAME), batch=BatchId(NAME), happenings=(made,))


def hostile_report() -> str:
    day = hostile_plan()
    header = BatchHeader(
        batch=BatchId(NAME), kettle=day.kettle.name, plan=day, started_utc_s=0.0, program=NAME, python="3"
    )
    return report_page(hostile_trace(), header, UTC)


def hostile_comparison() -> str:
    traces = (hostile_trace(), hostile_trace())
    return compare_page(
        Compared(
            names=(NAME, NAME),
            profiles=(NAME, NAME),
            traces=traces,
            steps=step_rows(traces),
            additions=(AdditionRow(name=NAME, made_min=(1.0, 2.0)),),
            figures=(),
        )
    )


def hostile_picture() -> str:
    trace = hostile_trace()
    assert trace.last is not None
    soon_s = trace.last.now_s + LONG
    ahead = (Coming(name=NAME, early_s=soon_s, at_s=soon_s, late_s=soon_s),)
    return str(trace_svg(trace, UTC, width=9000.0, alone=True, coming=ahead))


DOCUMENTS: dict[str, Callable[[], str]] = {
    "a brew sheet": hostile_sheet,
    "a report": hostile_report,
    "a comparison": hostile_comparison,
    "a picture by itself": hostile_picture,
}


@pytest.mark.parametrize("name", DOCUMENTS)
def test_a_name_that_looks_like_markup_stays_text(name: str) -> None:
    document = DOCUMENTS[name]()
    read = Reader(document)
    assert NAME in read.text
    assert not read.tags & {"script", "img"}
    assert not {attribute for attribute in read.attributes if attribute.startswith("on")}
    assert "<script" not in document
    assert "&amp;lt;" not in document, "something was escaped twice"


def test_what_is_put_into_an_element_is_escaped_and_an_element_is_not() -> None:
    inner = element("b", NAME, title=NAME)
    outer = joined(element("p", inner, NAME, class_="a", aria_label="b"), lone("path", d=NAME), NAME)
    read = Reader(page(NAME, "p > b {}", outer))
    assert read.tags == {"html", "head", "meta", "title", "style", "body", "p", "b", "path"}
    assert read.values.count(NAME) == 2
    assert read.attributes >= {"class", "aria-label", "title", "d"}
    assert read.text.count(NAME) == 4
    assert "p > b {}" in read.text
