"""Batches side by side: titled tables, and one self-contained HTML file that also prints."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from kettlebridge.brewing.side_by_side import AdditionRow, FigureRow, Side, StepRow
from kettlebridge.documents.after_sections import BESIDE_WORDS
from kettlebridge.documents.compare_svg import COMPARE_STYLE, LOOKS, compare_svg
from kettlebridge.documents.markup import element, page
from kettlebridge.documents.report import STYLE
from kettlebridge.documents.sheet_sections import Section
from kettlebridge.documents.trace_tables import Table, table_html
from kettlebridge.model.trace import Trace

MOST = len(LOOKS)
"""Batches that still can be told apart in one picture."""

DAY_WORDS: dict[str, tuple[str, str]] = {
    "day_min": ("The whole day", "{:.0f} min"),
    "energy_kwh": ("Electricity", "{:.2f} kWh"),
}
FOOT = (
    "Each step begins at one place for all batches; in brackets, how far from the first of them. "
    "Temperatures are the control probe's."
)
UNKNOWN = "–"
NOT_ZERO = "123456789"


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """What is set side by side, the batches in the order of their names."""

    names: tuple[str, ...]
    profiles: tuple[str, ...]
    traces: tuple[Trace, ...]
    steps: tuple[StepRow, ...]
    additions: tuple[AdditionRow, ...]
    figures: tuple[FigureRow, ...]


def compare_sections(compared: Compared) -> tuple[Section, ...]:
    """Tables; behind each value of a later batch stands how far it is from the first's. Empty ones are left out."""
    made = (_figures(compared), _minutes(compared), _temperatures(compared), _additions(compared))
    return tuple(section for section in made if section.rows)


def compare_page(compared: Compared) -> str:
    """The whole file. It asks for nothing outside itself."""
    title = f"{' and '.join(dict.fromkeys(compared.profiles))}, side by side"
    tables = [
        table_html(Table(title=section.title, head=section.head, rows=section.rows))
        for section in compare_sections(compared)
    ]
    picture = compare_svg(compared.names, compared.traces, compared.steps)
    return page(title, f"{STYLE}{COMPARE_STYLE}", element("h1", title), picture, *tables, element("footer", FOOT))


def _cells(form: str, values: Sequence[float | None]) -> tuple[str, ...]:
    """Each as `form` writes it, the later ones with their difference from the first."""
    first = values[0]
    signed = form if "+" in form else form.replace("{:", "{:+")
    cells = []
    for nth, value in enumerate(values):
        if value is None:
            cells.append(UNKNOWN)
        elif nth and first is not None:
            off = signed.format(value - first)
            cells.append(f"{form.format(value)} ({off if any(digit in off for digit in NOT_ZERO) else '='})")
        else:
            cells.append(form.format(value))
    return tuple(cells)


def _figures(compared: Compared) -> Section:
    words = BESIDE_WORDS | DAY_WORDS
    rows = tuple((words[row.key][0], *_cells(words[row.key][1], row.came)) for row in compared.figures)
    return Section(title="Figures, at 20 °C", head=("", *compared.names), rows=rows)


def _minutes(compared: Compared) -> Section:
    rows = tuple(
        (row.name, *_cells("{:.0f}", [None if side is None else side.minutes for side in row.sides]))
        for row in compared.steps
    )
    return Section(title="Steps, minutes with their ramps", head=("", *compared.names), rows=rows)


def _temperatures(compared: Compared) -> Section:
    rows = tuple(
        (row.name, *_cells("{:.1f}", [None if side is None else side.mean_c for side in row.sides]))
        for row in compared.steps
        if _any_temperature(row.sides)
    )
    return Section(title="Steps, mean °C", head=("", *compared.names), rows=rows)


def _any_temperature(sides: Sequence[Side | None]) -> bool:
    return any(side is not None and side.mean_c is not None for side in sides)


def _additions(compared: Compared) -> Section:
    rows = tuple((row.name, *_cells("{:.1f}", row.made_min)) for row in compared.additions)
    return Section(title="Additions, minutes before the end of their step", head=("", *compared.names), rows=rows)
