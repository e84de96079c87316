"""Several batches in one picture: every step begins for all of them at one place, so that unequal days lie together."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil, floor

from markupsafe import Markup

from kettlebridge.brewing.side_by_side import Side, StepRow
from kettlebridge.documents.markup import SVG, element, lone
from kettlebridge.model.trace import Series, Trace

WIDTH, HEIGHT = 900.0, 380.0
LEFT, RIGHT, TOP, BOTTOM = 44.0, 8.0, 34.0, 34.0
LETTER_WIDTH = 6.6
LABEL_WIDTH = 46.0
LEAST_RANGE_C = 20.0
LEAST_SPAN_S = 60.0
KEY_STEP = 160.0

LOOKS = (
    ("#b3400f", ""),
    ("#0f5c63", "9 4"),
    ("#5b4a8a", "3 3"),
    ("#2e6b26", "12 3 3 3"),
    ("#7a1f4f", "1 4"),
    ("#5f5a12", "6 2 1 2"),
)
"""Colour and dashes of each batch: told apart without colour too. As many as may be compared."""

COMPARE_STYLE = """
.compare{display:block;width:100%;height:auto;font:12px system-ui,sans-serif;color:#1d2a2f}
.compare text{fill:currentColor}
.compare .grid{stroke:currentColor;stroke-opacity:.16;stroke-width:1}
.compare .band{fill:currentColor;fill-opacity:.055}
.compare .line{fill:none;stroke-width:2;stroke-linejoin:round}
@media (prefers-color-scheme:dark){.compare{background:#efeae0}}
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Column:
    """Where a step lies: from `left` on, `per_s` across for each second of whichever batch took longest."""

    row: StepRow
    left: float
    width: float
    per_s: float


def compare_svg(names: Sequence[str], traces: Sequence[Trace], rows: Sequence[StepRow]) -> Markup:
    """The picture; `rows` are those of the traces, in their order."""
    low_c, high_c = _range(traces)
    columns = list(_columns(rows))
    parts = [*_bands(columns), *_grid(low_c, high_c), *_key(names)]
    for nth, trace in enumerate(traces):
        colour, dashes = LOOKS[nth % len(LOOKS)]
        path = "".join(_path(column, nth, trace.series, (low_c, high_c)) for column in columns)
        if path:
            name = element("title", names[nth])
            parts.append(element("path", name, class_="line", stroke=colour, stroke_dasharray=dashes, d=path))
    words = f"Temperatures of {', '.join(names)}, each step begun at one place. The table has the figures."
    title, told = element("title", "Temperatures, step by step"), element("desc", words)
    view = {"viewBox": f"0 0 {WIDTH:g} {HEIGHT:g}"}
    return element("svg", title, told, *parts, xmlns=SVG, class_="compare", role="img", **view)


def _range(traces: Sequence[Trace]) -> tuple[float, float]:
    known = [value for trace in traces for value in trace.series.temperature_c if value is not None]
    low_c = 10.0 * floor(min(known, default=0.0) / 10.0)
    return low_c, max(10.0 * ceil(max(known, default=100.0) / 10.0), low_c + LEAST_RANGE_C)


def _columns(rows: Sequence[StepRow]) -> Iterator[_Column]:
    """As wide as the longest of the batches needs."""
    longest_s = [max(LEAST_SPAN_S, *(side.ended_s - side.begun_s for side in row.sides if side)) for row in rows]
    whole_s = 0.0
    for one_s in longest_s:
        whole_s += one_s
    left = LEFT
    for row, one_s in zip(rows, longest_s, strict=True):
        width = (WIDTH - LEFT - RIGHT) * one_s / whole_s
        yield _Column(row=row, left=left, width=width, per_s=width / one_s)
        left += width


def _y(value_c: float, range_c: tuple[float, float]) -> float:
    low_c, high_c = range_c
    return TOP + (high_c - value_c) / (high_c - low_c) * (HEIGHT - TOP - BOTTOM)


def _bands(columns: Sequence[_Column]) -> Iterator[Markup]:
    for nth, column in enumerate(columns):
        if nth % 2 == 0:
            yield lone(
                "rect",
                class_="band",
                x=f"{column.left:.1f}",
                y=f"{TOP - 20:g}",
                width=f"{column.width:.1f}",
                height=f"{HEIGHT - TOP - BOTTOM + 20:g}",
            )
        room = int((column.width - 6.0) / LETTER_WIDTH)
        if column.width >= LABEL_WIDTH:
            name = column.row.name
            text = name if len(name) <= room else f"{name[: room - 1]}…"
            yield element("text", text, x=f"{column.left + 4:.1f}", y=f"{TOP - 7:g}")


def _grid(low_c: float, high_c: float) -> Iterator[Markup]:
    step_c = 10.0 if high_c - low_c <= 60.0 else 20.0
    value_c = low_c
    while value_c <= high_c:
        y = _y(value_c, (low_c, high_c))
        yield lone("path", class_="grid", d=f"M{LEFT:g},{y:.1f}H{WIDTH - RIGHT:g}")
        yield element("text", f"{value_c:.0f}°", x=f"{LEFT - 6:g}", y=f"{y + 4:.1f}", text_anchor="end")
        value_c += step_c


def _key(names: Sequence[str]) -> Iterator[Markup]:
    step = min(KEY_STEP * 2, (WIDTH - LEFT - RIGHT) / len(names))
    room = int((step - 44.0) / LETTER_WIDTH)
    for nth, name in enumerate(names):
        colour, dashes = LOOKS[nth % len(LOOKS)]
        x, y = LEFT + nth * step, HEIGHT - 12.0
        text = name if len(name) <= room else f"…{name[1 - room :]}"
        yield lone("path", class_="line", stroke=colour, stroke_dasharray=dashes, d=f"M{x:.1f},{y - 4:g}h32")
        yield element("text", text, x=f"{x + 38:.1f}", y=f"{y:g}")


def _path(column: _Column, nth: int, series: Series, range_c: tuple[float, float]) -> str:
    """The pen goes up between steps, and wherever nothing was measured."""
    side = column.row.sides[nth]
    if side is None:
        return ""
    parts: list[str] = []
    last_s: float | None = None
    for at_s, value_c in _points(series, side):
        joined = last_s is not None and at_s - last_s <= series.gap_s
        x = column.left + (at_s - side.begun_s) * column.per_s
        parts.append(f"{'L' if joined else 'M'}{x:.1f},{_y(value_c, range_c):.1f}")
        last_s = at_s
    return "".join(parts)


def _points(series: Series, side: Side) -> Iterator[tuple[float, float]]:
    for at_s, value_c in zip(series.at_s, series.temperature_c, strict=True):
        if value_c is not None and side.begun_s <= at_s <= side.ended_s:
            yield at_s, value_c
