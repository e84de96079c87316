"""The picture of a day: what it shows, what it says without being seen, and how long it takes."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import replace

from kettlebridge.documents.trace_svg import MARKS, Coming, spoken, trace_svg
from kettlebridge.documents.trace_tables import events_table, steps_table, table_html
from kettlebridge.files.local_time import zone_time
from kettlebridge.model.event import Event, EventCode, Scalar
from kettlebridge.model.ids import BatchId
from kettlebridge.model.plan import StepKind
from kettlebridge.model.trace import Happening, Series, Span, Trace
from tests.documents.builders import plan, snapshot

UTC = zone_time("UTC")
SVG = "{http://www.w3.org/2000/svg}"
EVERY_S = 10.0


def a_trace(points: int = 60, *, without: range = range(0), name: str = "Sugar rest") -> Trace:
    """A climb, with no temperature at the points `without`."""
    at_s = tuple(EVERY_S * index for index in range(points))
    series = Series(
        at_s=at_s,
        temperature_c=tuple(None if index in without else 20.0 + 60.0 * index / points for index in range(points)),
        target_c=(66.0,) * points,
        heater_fraction=(0.5,) * points,
        gap_s=3 * EVERY_S,
    )
    last = replace(snapshot(), now_s=at_s[-1], at_utc_s=1_800_000_000.0 + at_s[-1])
    spans = (Span(index=0, name=name, kind=StepKind.REST, begun_s=0.0),)
    return Trace(batch=BatchId("thimble-1"), series=series, spans=spans, last=last)


def happened(code: EventCode, **values: Scalar) -> Happening:
    return Happening(event=Event(code=code, values=tuple(values.items())), seen=replace(snapshot(), now_s=300.0))


def drawn(trace: Trace, look: str) -> list[ET.Element]:
    return [element for element in ET.fromstring(trace_svg(trace, UTC)).iter() if element.get("class") == look]  # noqa: S314 - our own


def test_every_column_of_figures_is_drawn() -> None:
    for look in ("temperature", "target", "heat", "band"):
        assert len(drawn(a_trace(), look)) == 1, look


def test_the_pen_is_lifted_where_there_was_no_data() -> None:
    (whole,) = drawn(a_trace(), "temperature")
    (broken,) = drawn(a_trace(without=range(20, 40)), "temperature")
    assert whole.get("d", "").count("M") == 1
    assert broken.get("d", "").count("M") == 2
    (gap,) = drawn(a_trace(without=range(20, 40)), "gap")
    assert gap[0].text == "no data for 4 min"
    assert drawn(a_trace(without=range(20, 21)), "gap") == []


def test_a_spike_is_not_thinned_away() -> None:
    trace = a_trace(4000)
    spiked = list(trace.series.temperature_c)
    spiked[2003] = 95.0
    with_spike = replace(trace, series=replace(trace.series, temperature_c=tuple(spiked)))
    heights = [
        min(float(y) for y in re.findall(r",([\d.]+)", drawn(one, "temperature")[0].get("d", "")))
        for one in (replace(with_spike, series=replace(with_spike.series, target_c=(100.0,) * 4000)),)
    ]
    (level,) = heights
    assert level == round(34.0 + (100.0 - 95.0) / 80.0 * (340.0 - 34.0 - 66.0), 1)


def test_what_happened_is_drawn_with_a_shape_and_a_word_of_its_own() -> None:
    marks = (happened(EventCode.ADDITION_MADE, addition="Leaf <green>"), happened(EventCode.ALARM_RAISED))
    trace = replace(a_trace(), happenings=marks)
    (addition,), (alarm,) = drawn(trace, "addition"), drawn(trace, "alarm")
    assert addition[0].text == "addition: Leaf <green>"
    assert alarm[0].text == "alarm"
    assert len({kind.shape for kind in MARKS.values()}) == len(MARKS)


def test_names_cannot_break_out_of_the_picture() -> None:
    picture = trace_svg(a_trace(name='</text><script>"x"'), UTC)
    assert "<script" not in picture
    assert ET.fromstring(picture).tag == f"{SVG}svg"  # noqa: S314 - our own


def test_the_picture_is_told_in_words_too() -> None:
    assert spoken(a_trace(), UTC) == (
        "From 08:00 to 08:09: between 20.0 °C and 79.0 °C, now 66.4 °C. Steps: Sugar rest from 08:00."
    )
    assert spoken(Trace(batch=BatchId("b"), series=Series()), UTC) == "Nothing was measured yet."


def test_what_is_ahead_is_dotted_in_a_band_and_spoken_and_takes_at_most_half() -> None:
    trace = a_trace()
    assert trace.last is not None
    now_s = trace.last.now_s
    lift = Coming(name="Lift", early_s=now_s + 600.0, at_s=now_s + 900.0, late_s=now_s + 1200.0)
    beyond = replace(lift, name="Empty", early_s=now_s + 9e4, at_s=now_s + 9e4, late_s=now_s + 9e4)
    picture = trace_svg(trace, UTC, coming=(lift, beyond))
    root = ET.fromstring(picture)  # noqa: S314
    assert [one.get("class") for one in root if one.get("class") in {"unsure", "coming"}] == ["unsure", "coming"]
    assert "To come: Lift about" in picture
    assert float(root.get("data-to") or 0.0) <= now_s + max(now_s, 3600.0)
    assert 'class="coming"' not in trace_svg(trace, UTC)


def test_an_empty_trace_is_a_picture_too() -> None:
    assert ET.fromstring(trace_svg(Trace(batch=BatchId("b"), series=Series()), UTC)).get("role") == "img"  # noqa: S314


def test_the_table_behind_it_has_every_step_and_everything_that_people_are_told() -> None:
    told = happened(EventCode.REST_REACHED)
    trace = replace(a_trace(), happenings=(told, happened(EventCode.STAGE, index=0, stage="begin")))
    steps = steps_table(trace, plan(), UTC)
    assert [row[0] for row in steps.rows] == ["Sugar rest", "Lift", "Boil"]
    assert steps.rows[0][2:] == ("08:00", "10 min", "20.0 °C", "79.0 °C")
    assert steps.rows[1][2:] == ("", "", "", "")
    assert events_table(trace, plan(), UTC).rows == (("08:01", "The rest is reached, 66.4 °C."),)
    assert "<caption>Steps</caption>" in table_html(steps)
