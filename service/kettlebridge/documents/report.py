"""The record of a batch as one self-contained HTML file that also prints: the course, the steps, and what happened."""

from __future__ import annotations

from collections.abc import Iterator

from markupsafe import Markup

from kettlebridge.brewing.beside_plan import beside
from kettlebridge.brewing.brewed import brewed
from kettlebridge.brewing.measuring import HYDROMETER
from kettlebridge.brewing.rescue_measured import measured_days
from kettlebridge.documents.after_sections import figures
from kettlebridge.documents.amounts import degrees, duration, energy
from kettlebridge.documents.markup import element, page
from kettlebridge.documents.rescue_words import rescue_words
from kettlebridge.documents.states import STATE_WORDS
from kettlebridge.documents.trace_svg import TRACE_STYLE, trace_svg
from kettlebridge.documents.trace_tables import Table, events_table, steps_table, table_html
from kettlebridge.documents.troubles import ALARM_WORDS
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.plan import Plan
from kettlebridge.model.trace import Trace
from kettlebridge.model.units import J_PER_KWH
from kettlebridge.ports import BatchHeader, LocalTime

STYLE = """
:root{color-scheme:light dark}
@page{size:A4;margin:12mm}
body{font:11pt/1.4 system-ui,sans-serif;color:#1b272b;background:#fff;max-width:64rem;margin:1rem auto;padding:0 1rem}
h1{font-size:1.7rem;line-height:1.2;margin:.2em 0}h2{font-size:1.1rem;margin:1.6em 0 .3em}
.wide{overflow-x:auto}
table{border-collapse:collapse;width:100%;font-size:.92em;break-inside:auto}caption{text-align:left;font-weight:600}
td,th{text-align:left;padding:.2em .8em .2em 0;border-bottom:1px solid #ccc;vertical-align:top}
tr,svg{break-inside:avoid}dl{display:grid;grid-template-columns:max-content 1fr;gap:.1em 1.2em}dd{margin:0}
footer{margin-top:2em;font-size:.85em;color:#555}
@media (prefers-color-scheme:dark){body{background:#11181a;color:#efeae0}footer{color:#a9b4b2}}
@media print{body{color:#111;background:#fff}.wide{overflow:visible}}
"""
REPORT_STYLE = f"{STYLE}{TRACE_STYLE}"
"""What stands in the one style element of a report; a page that serves it may want to name it."""


def report_page(trace: Trace, header: BatchHeader, time: LocalTime) -> str:
    """The whole file. It asks for nothing outside itself."""
    plan = header.plan
    tables = (
        steps_table(trace, plan, time),
        _additions(trace),
        _measured(trace, time),
        _said(trace, plan, time),
        _beside(trace, plan),
        _alarms(trace, time),
        _energy(trace),
        events_table(trace, plan, time),
    )
    foot = (
        f"Made by Kettlebridge {header.program} from the record of {header.batch}. "
        "Steps and temperatures are as measured; times are this machine's."
    )
    main = element(
        "main",
        element("h1", _sentence(trace, header, time)),
        element("dl", *(_fact(*fact) for fact in _facts(trace, header, time))),
        trace_svg(trace, time),
        *(_scrolled(table) for table in tables if table.rows),
    )
    return page(plan.profile.name, REPORT_STYLE, main, element("footer", foot))


def _sentence(trace: Trace, header: BatchHeader, time: LocalTime) -> str:
    if trace.last is None:
        return f"{header.plan.profile.name}: nothing was recorded."
    how = STATE_WORDS[trace.last.state].name
    begun = time.date_hh_mm(header.started_utc_s)
    return f"{header.plan.profile.name}, brewed {begun}, {duration(trace.last.now_s)}: {how[0].lower()}{how[1:]}."


def _facts(trace: Trace, header: BatchHeader, time: LocalTime) -> Iterator[tuple[str, str]]:
    water = header.plan.profile.water
    yield "kettle", header.kettle
    yield "batch", header.batch
    infused_l = header.plan.profile.infused_l
    infused = f", {infused_l:g} L hot into the mash" if infused_l else ""
    yield "water", f"{water.fill_l:g} L{infused}, then {water.sparge_l:g} L for rinsing"
    yield "grain", f"{water.grain_kg:g} kg"
    if trace.last is not None:
        yield "ended", time.date_hh_mm(trace.last.at_utc_s)
        yield "electricity", energy(trace.last.energy_kwh)


def _fact(name: str, value: str) -> Markup:
    return element("dt", name) + element("dd", value)


def _additions(trace: Trace) -> Table:
    rows = tuple(
        (
            str(made.event.get("addition")),
            f"{made.event.figure('planned_before_end_min'):.1f} min",
            f"{made.event.figure('made_before_end_min'):.1f} min",
        )
        for made in trace.of(EventCode.ADDITION_MADE)
    )
    return Table(title="Additions, before the end of their step", head=("what", "planned", "made"), rows=rows)


def _measured(trace: Trace, time: LocalTime) -> Table:
    rows = tuple(
        (time.hh_mm(happening.seen.at_utc_s), *_reading(happening.event)) for happening in trace.of(EventCode.MEASURED)
    )
    return Table(title="Measured by hand", head=("time", "by", "as read", "at 20 °C"), rows=rows)


def _reading(event: Event) -> tuple[str, str, str]:
    by, read, at_c = str(event.get("by")), event.figure("read"), event.number("at_c")
    at = "" if at_c is None else f" at {degrees(at_c)}"
    if event.get("what") == "volume":
        return by, f"{read:.1f} L{at}", f"{event.figure('volume_l'):.1f} L"
    shown = f"{read:.3f}" if by == HYDROMETER else f"{read:.1f} °Bx"
    return by, f"{shown}{at}", f"{event.figure('gravity_sg'):.3f}, {event.figure('plato'):.1f} °P"


def _said(trace: Trace, plan: Plan, time: LocalTime) -> Table:
    """What the brewer could know from each measurement, and might have done about it."""
    rows = tuple(
        (
            time.hh_mm(each.seen.at_utc_s),
            rescue_words(found.found),
            rescue_words(found.unmended),
            " ".join(rescue_words(mend) for mend in found.mends) or "nothing to mend",
        )
        for each, found in measured_days(plan, trace)
    )
    return Table(title="What that said", head=("time", "found", "left as it was", "choices then"), rows=rows)


def _beside(trace: Trace, plan: Plan) -> Table:
    """Plan against measured; a batch in which nothing was measured has none."""
    if trace.last is None:
        return Table(title="", head=(), rows=())
    came = tuple(row for row in beside(plan, brewed(plan, trace), None, ()) if row.came is not None)
    section = figures(came)
    return Table(title=section.title, head=section.head, rows=section.rows)


def _scrolled(table: Table) -> Markup:
    """Wider than the screen it is scrolled, by the keyboard too."""
    return element("div", table_html(table), class_="wide", tabindex="0", role="region", aria_label=table.title)


def _alarms(trace: Trace, time: LocalTime) -> Table:
    rows = tuple(
        (time.hh_mm(happening.seen.at_utc_s), ALARM_WORDS[str(happening.event.get("alarm"))].happened)
        for happening in trace.of(EventCode.ALARM_RAISED)
    )
    return Table(title="Alarms", head=("time", "what"), rows=rows)


def _energy(trace: Trace) -> Table:
    """From the meter readings that each step's begin and end carry."""
    begun: dict[object, Event] = {}
    rows: list[tuple[str, str, str]] = []
    for happening in trace.happenings:
        event = happening.event
        if event.code is EventCode.STEP_BEGUN:
            begun[event.get("index")] = event
        elif event.code is EventCode.STEP_DONE and event.get("index") in begun:
            used_j = event.figure("energy_j") - begun[event.get("index")].figure("energy_j")
            if used_j > 0.0:
                ended_c = event.number("control_c")
                at = "" if ended_c is None else degrees(ended_c)
                rows.append((str(event.get("step")), energy(used_j / J_PER_KWH), at))
    return Table(title="Electricity", head=("step", "used", "ended at"), rows=tuple(rows))
