"""The course of a batch as a picture: temperature, target, heat, steps, additions and trouble, with words beside it.

One SVG serves the page, the report and the docs. Colours come from TRACE_STYLE; shapes and words say the same.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, floor

from markupsafe import Markup

from kettlebridge.documents.amounts import degrees, duration
from kettlebridge.documents.markup import NOTHING, SVG, element, lone, styled
from kettlebridge.model.event import EventCode
from kettlebridge.model.trace import Happening, Series, Trace
from kettlebridge.model.units import S_PER_MIN
from kettlebridge.ports import LocalTime

WIDTH, HEIGHT = 900.0, 340.0
NARROW = 440.0
"""Width of the picture on a telephone: the same height and letters, fewer points and labels."""

LEFT, RIGHT, TOP, BOTTOM = 44.0, 8.0, 34.0, 66.0
HEAT_HEIGHT = 26.0
HEAT_BASE = HEIGHT - 24.0
COLUMN_WIDTH = 2.0
"""Buckets of the picture: two points each, so that a spike is never thinned away."""

STEP_LABEL_WIDTH = 52.0
LETTER_WIDTH = 6.6
TIME_STEPS_MIN = (1, 2, 5, 10, 15, 30, 60, 120, 240, 480)
TIME_LABEL_WIDTH = 95.0
LEAST_SPAN_S = 300.0
LEAST_AHEAD_S = 3600.0
"""What is ahead takes no more of the picture than what was, or this long."""

LEAST_RANGE_C = 20.0

Point = tuple[float, float]
"""Seconds of batch time, and degrees."""

TRACE_STYLE = """
.trace{display:block;width:100%;height:auto;font:12px system-ui,sans-serif;color:#1d2a2f}
.trace text{fill:currentColor}
.trace .grid{stroke:currentColor;stroke-opacity:.16;stroke-width:1}
.trace .band{fill:currentColor;fill-opacity:.055}
.trace .gap{fill:currentColor;fill-opacity:.12}
.trace .temperature{fill:none;stroke:#b3400f;stroke-width:2.2;stroke-linejoin:round}
.trace .target{fill:none;stroke:#0f5c63;stroke-width:1.6;stroke-dasharray:7 4}
.trace .heat{fill:#b3400f;fill-opacity:.35;stroke:none}
.trace .addition{fill:#2e6b26}
.trace .alarm{fill:#a11212}
.trace .pause{fill:#5b4a8a}
.trace .boil{fill:none;stroke:#0f5c63;stroke-width:2}
.trace .unsure{fill:#0f5c63;fill-opacity:.14}
.trace .coming{stroke:#0f5c63;stroke-width:1.4;stroke-dasharray:2 4}
.trace .present{stroke:currentColor;stroke-width:1.4}
@media (prefers-color-scheme:dark){
.trace{color:#ece7dc}
.trace .temperature{stroke:#ff9c66}.trace .heat{fill:#ff9c66}
.trace .target,.trace .boil,.trace .coming{stroke:#7fd0ca}.trace .unsure{fill:#7fd0ca}
.trace .addition{fill:#9bd48d}.trace .alarm{fill:#ff8f8f}.trace .pause{fill:#c0b0f0}}
@media print{.trace{color:#111}}
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkKind:
    """How an event stands in the picture: a class of TRACE_STYLE, a shape around (0, 0), and a word for the key."""

    look: str
    shape: str
    word: str


ADDITION = MarkKind(look="addition", shape="M-6,-9H6L0,2Z", word="addition")
ALARM = MarkKind(look="alarm", shape="M0,-8L8,0L0,8L-8,0Z", word="alarm")
PAUSE = MarkKind(look="pause", shape="M-6,-7H-2V7H-6ZM2,-7H6V7H2Z", word="paused")
BOIL = MarkKind(look="boil", shape="M-5,0a5,5 0 1,0 10,0a5,5 0 1,0 -10,0", word="boils")
MARKS: dict[EventCode, MarkKind] = {
    EventCode.ADDITION_MADE: ADDITION,
    EventCode.ALARM_RAISED: ALARM,
    EventCode.HELD: PAUSE,
    EventCode.BOIL_FOUND: BOIL,
}
"""Events that are drawn; all of them are in the table."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Coming:
    """A step that is to begin about `at_s` of batch time, in eight of ten days between `early_s` and `late_s`."""

    name: str
    early_s: float
    at_s: float
    late_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """What the picture shows: batch time across, temperature up, wall time of batch time 0. `right` is its edge."""

    from_s: float
    to_s: float
    low_c: float
    high_c: float
    zero_utc_s: float
    right: float

    def x(self, at_s: float) -> float:
        """Across."""
        return LEFT + (at_s - self.from_s) / (self.to_s - self.from_s) * (self.right - LEFT)

    def columns_per_s(self) -> float:
        """Buckets a second of batch time."""
        return (self.right - LEFT) / COLUMN_WIDTH / (self.to_s - self.from_s)

    def y(self, value_c: float) -> float:
        """Down."""
        return TOP + (self.high_c - value_c) / (self.high_c - self.low_c) * (HEIGHT - TOP - BOTTOM)


def trace_svg(
    trace: Trace,
    time: LocalTime,
    *,
    width: float = WIDTH,
    alone: bool = False,
    coming: tuple[Coming, ...] = (),
) -> Markup:
    """The picture. `alone`: a file of its own, with its style inside. `coming`: what is ahead, in its order."""
    frame = _frame(trace, width, coming)
    parts = [
        *_bands(frame, trace),
        *_grid(frame, time),
        *_gaps(frame, trace.series),
        _heat(frame, trace.series),
        _path("target", _steps_path(frame, trace.series)),
        _path("temperature", _line_path(frame, trace.series)),
        *_marks(frame, trace.happenings),
        *_ahead(frame, trace, coming),
    ]
    told = (
        element("title", "Temperature, target and heat over the day"),
        element("desc", spoken(trace, time, coming)),
        styled(TRACE_STYLE) if alone else NOTHING,
    )
    view = {"viewBox": f"0 0 {width:g} {HEIGHT:g}"} | _scale(frame, time)
    return element("svg", *told, *parts, xmlns=SVG, class_="trace", role="img", **view)


def _scale(frame: Frame, time: LocalTime) -> dict[str, str]:
    """What a pointer needs to read the picture: its edges in seconds and degrees, and the clock at batch time 0."""
    hours, minutes = time.hh_mm(frame.zero_utc_s).split(":")
    zero_s = (int(hours) * 60 + int(minutes)) * S_PER_MIN + frame.zero_utc_s % S_PER_MIN
    figures = {
        "from": frame.from_s,
        "to": frame.to_s,
        "low": frame.low_c,
        "high": frame.high_c,
        "left": LEFT,
        "right": frame.right,
        "top": TOP,
        "bottom": HEIGHT - BOTTOM,
        "zero": zero_s,
    }
    return {f"data-{name}": f"{value:.10g}" for name, value in figures.items()}


def spoken(trace: Trace, time: LocalTime, coming: tuple[Coming, ...] = ()) -> str:
    """The picture in words, for who cannot see it."""
    known = [value for value in trace.series.temperature_c if value is not None]
    if not known or trace.last is None:
        return "Nothing was measured yet."
    zero_utc_s = trace.last.at_utc_s - trace.last.now_s
    begin, end = time.hh_mm(zero_utc_s + trace.series.at_s[0]), time.hh_mm(trace.last.at_utc_s)
    ahead = "; ".join(f"{one.name} about {time.hh_mm(zero_utc_s + one.at_s)}" for one in coming)
    lived = "; ".join(f"{span.name} from {time.hh_mm(zero_utc_s + span.begun_s)}" for span in trace.spans)
    return (
        f"From {begin} to {end}: between {degrees(min(known))} and {degrees(max(known))}, "
        f"now {degrees(trace.last.temperature_c)}. {f'Steps: {lived}.' if lived else 'No step has begun.'}"
        f"{f' To come: {ahead}.' if ahead else ''}"
    )


def _frame(trace: Trace, width: float, coming: tuple[Coming, ...]) -> Frame:
    series = trace.series
    known = [value for column in (series.temperature_c, series.target_c) for value in column if value is not None]
    low_c = 10.0 * floor(min(known, default=0.0) / 10.0)
    high_c = max(10.0 * ceil(max(known, default=100.0) / 10.0), low_c + LEAST_RANGE_C)
    from_s = series.at_s[0] if series.at_s else 0.0
    to_s = from_s if trace.last is None else trace.last.now_s
    zero_utc_s = 0.0 if trace.last is None else trace.last.at_utc_s - trace.last.now_s
    ahead_s = min(max((one.late_s for one in coming), default=to_s), to_s + max(to_s - from_s, LEAST_AHEAD_S))
    return Frame(
        from_s=from_s,
        to_s=max(to_s, ahead_s, from_s + LEAST_SPAN_S),
        low_c=low_c,
        high_c=high_c,
        zero_utc_s=zero_utc_s,
        right=width - RIGHT,
    )


def _ahead(frame: Frame, trace: Trace, coming: tuple[Coming, ...]) -> Iterator[Markup]:
    """When the steps to come begin: a dotted line, in a band as wide as it is unsure."""
    if trace.last is None or not coming:
        return
    now_x, labelled_x = frame.x(trace.last.now_s), frame.x(trace.last.now_s)
    yield lone("path", class_="present", d=f"M{now_x:.1f},{TOP - 4:g}V{HEAT_BASE:g}")
    for one in coming:
        x = frame.x(one.at_s)
        if x > frame.right:
            return
        left, right = max(frame.x(one.early_s), now_x), min(frame.x(one.late_s), frame.right)
        yield lone(
            "rect",
            class_="unsure",
            x=f"{left:.1f}",
            y=f"{TOP:g}",
            width=f"{max(right - left, 0.0):.1f}",
            height=f"{HEAT_BASE - TOP:g}",
        )
        yield lone("path", class_="coming", d=f"M{x:.1f},{TOP:g}V{HEAT_BASE:g}")
        room = int((frame.right - x) / LETTER_WIDTH)
        if x >= labelled_x and len(one.name) <= room:
            yield element("text", one.name, x=f"{x + 3:.1f}", y=f"{TOP - 7:g}")
            labelled_x = x + 3.0 + (len(one.name) + 1) * LETTER_WIDTH


def _bands(frame: Frame, trace: Trace) -> Iterator[Markup]:
    """Every other step shaded, and its name where there is room for it; its number where there is room for that."""
    now_s = frame.to_s if trace.last is None else max(trace.last.now_s, frame.from_s)
    for position, span in enumerate(trace.spans):
        left, right = frame.x(span.begun_s), frame.x(now_s if span.ended_s is None else span.ended_s)
        if position % 2 == 0:
            yield lone(
                "rect",
                class_="band",
                x=f"{left:.1f}",
                y=f"{TOP - 20:g}",
                width=f"{right - left:.1f}",
                height=f"{HEAT_BASE - TOP + 20:g}",
            )
        room = int((right - left - 6.0) / LETTER_WIDTH)
        if right - left >= STEP_LABEL_WIDTH:
            text = span.name if len(span.name) <= room else f"{span.name[: room - 1]}…"
            yield element("text", text, x=f"{left + 4:.1f}", y=f"{TOP - 7:g}")


def _grid(frame: Frame, time: LocalTime) -> Iterator[Markup]:
    span_c = frame.high_c - frame.low_c
    step_c = 10.0 if span_c <= 60.0 else 20.0
    value_c = frame.low_c
    while value_c <= frame.high_c:
        y = frame.y(value_c)
        yield lone("path", class_="grid", d=f"M{LEFT:g},{y:.1f}H{frame.right:g}")
        yield element("text", f"{value_c:.0f}°", x=f"{LEFT - 6:g}", y=f"{y + 4:.1f}", text_anchor="end")
        value_c += step_c
    labels = (frame.right - LEFT) / TIME_LABEL_WIDTH
    fits = (minutes for minutes in TIME_STEPS_MIN if (frame.to_s - frame.from_s) / (minutes * S_PER_MIN) <= labels)
    step_s = next(fits, TIME_STEPS_MIN[-1]) * S_PER_MIN
    at_utc_s = step_s * ceil((frame.zero_utc_s + frame.from_s) / step_s)
    while at_utc_s <= frame.zero_utc_s + frame.to_s:
        x = frame.x(at_utc_s - frame.zero_utc_s)
        yield lone("path", class_="grid", d=f"M{x:.1f},{TOP:g}V{HEAT_BASE:g}")
        if LEFT + 14.0 <= x <= frame.right - 14.0:
            yield element("text", time.hh_mm(at_utc_s), x=f"{x:.1f}", y=f"{HEIGHT - 7:g}", text_anchor="middle")
        at_utc_s += step_s
    yield element("text", "heat", x=f"{LEFT - 6:g}", y=f"{HEAT_BASE - 8:g}", text_anchor="end")


def _gaps(frame: Frame, series: Series) -> Iterator[Markup]:
    """Time without a temperature, shaded and named."""
    for begun_s, ended_s in silences(series):
        left, right = frame.x(begun_s), frame.x(ended_s)
        yield element(
            "rect",
            element("title", f"no data for {duration(ended_s - begun_s)}"),
            class_="gap",
            x=f"{left:.1f}",
            y=f"{TOP:g}",
            width=f"{right - left:.1f}",
            height=f"{HEIGHT - TOP - BOTTOM:g}",
        )
        if right - left >= STEP_LABEL_WIDTH:
            middle, low = f"{(left + right) / 2:.1f}", f"{HEIGHT - BOTTOM - 8:g}"
            yield element("text", "no data", x=middle, y=low, text_anchor="middle")


def silences(series: Series) -> Iterator[tuple[float, float]]:
    """Begin and end of each stretch longer than `gap_s` without a known temperature."""
    last_s: float | None = None
    for at_s, value_c in zip(series.at_s, series.temperature_c, strict=True):
        if value_c is None:
            continue
        if last_s is not None and at_s - last_s > series.gap_s:
            yield last_s, at_s
        last_s = at_s
    if last_s is not None and series.at_s[-1] - last_s > series.gap_s:
        yield last_s, series.at_s[-1]


def _line_path(frame: Frame, series: Series) -> str:
    """The temperature, pen up over every gap. Of each column of the picture its lowest and highest, as they came."""
    parts: list[str] = []
    for after_gap, low, high in _columns(frame, series):
        pen = "M" if after_gap else "L"
        for at_s, value_c in (low,) if low == high else sorted((low, high)):
            parts.append(f"{pen}{frame.x(at_s):.1f},{frame.y(value_c):.1f}")
            pen = "L"
    return "".join(parts)


def _columns(frame: Frame, series: Series) -> Iterator[tuple[bool, Point, Point]]:
    """Each column of the picture with a temperature in it: whether it comes after a gap, its lowest and its highest."""
    points = zip(series.at_s, series.temperature_c, strict=True)
    known = [(at_s, value_c) for at_s, value_c in points if value_c is not None]
    if not known:
        return
    from_s, per_s, gap_s = frame.from_s, frame.columns_per_s(), series.gap_s
    low = high = known[0]
    last_s, column, after_gap = low[0], int((low[0] - from_s) * per_s), True
    for point in known:
        at_s, value_c = point
        here, broken = int((at_s - from_s) * per_s), at_s - last_s > gap_s
        last_s = at_s
        if broken or here != column:
            yield after_gap, low, high
            low = high = point
            column, after_gap = here, broken
        elif value_c < low[1]:
            low = point
        elif value_c > high[1]:
            high = point
    yield after_gap, low, high


def _steps_path(frame: Frame, series: Series) -> str:
    """The target: level, then at once to the next."""
    parts: list[str] = []
    now_c: float | None = None
    for at_s, target_c in zip(series.at_s, series.target_c, strict=True):
        if target_c == now_c:
            continue
        x = f"{frame.x(at_s):.1f}"
        if now_c is not None:
            parts.append(f"H{x}")
        if target_c is not None:
            parts.append(f"V{frame.y(target_c):.1f}" if now_c is not None else f"M{x},{frame.y(target_c):.1f}")
        now_c = target_c
    if now_c is not None:
        parts.append(f"H{frame.x(series.at_s[-1]):.1f}")
    return "".join(parts)


def _heat(frame: Frame, series: Series) -> Markup:
    """The heater's share of full power, as an area: each column of the picture its mean."""
    if not len(series):
        return NOTHING
    per_s = frame.columns_per_s() / 2
    parts = [f"M{frame.x(series.at_s[0]):.1f},{HEAT_BASE:g}"]
    column, total, count = 0, 0.0, 0
    for at_s, fraction in zip(series.at_s, series.heater_fraction, strict=True):
        here = int((at_s - frame.from_s) * per_s)
        if here != column and count:
            parts.append(_bar(frame, column / per_s, total / count))
            column, total, count = here, 0.0, 0
        total += fraction
        count += 1
    parts.append(_bar(frame, column / per_s, total / count if count else 0.0))
    return lone("path", class_="heat", d=f"{''.join(parts)}V{HEAT_BASE:g}Z")


def _bar(frame: Frame, after_s: float, fraction: float) -> str:
    return f"H{frame.x(frame.from_s + after_s):.1f}V{HEAT_BASE - HEAT_HEIGHT * fraction:.1f}"


def _marks(frame: Frame, happenings: tuple[Happening, ...]) -> Iterator[Markup]:
    """Each on the line where it happened, named for who points at it."""
    for happening in happenings:
        kind = MARKS.get(happening.event.code)
        if kind is not None:
            value_c = happening.seen.temperature_c
            y = frame.y(frame.low_c if value_c is None else value_c)
            subject = happening.event.get("addition")
            words = kind.word if subject is None else f"{kind.word}: {subject}"
            place = f"translate({frame.x(happening.at_s):.1f},{y - 6:.1f})"
            yield element("path", element("title", words), class_=kind.look, transform=place, d=kind.shape)


def _path(look: str, path: str) -> Markup:
    return lone("path", class_=look, d=path) if path else NOTHING
