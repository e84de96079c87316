"""What became of each field of a recipe from elsewhere: what is doubtful in rows, the rest in few lines."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import groupby, takewhile

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from kettlebridge.files.source_fields import FieldNote, Verdict

ORDER = (Verdict.DOUBTFUL, Verdict.IGNORED, Verdict.USED)
LONGEST_VALUE = 60


def show_fields(console: Console, name: str, notes: tuple[FieldNote, ...]) -> None:
    """All of them; places are named from where they begin to differ."""
    above = _above(notes)
    console.print(Text(f"{name}: what became of each field of {above.rstrip('/.')}"))
    doubtful, *others = ([note for note in notes if note.verdict is verdict] for verdict in ORDER)
    if doubtful:
        console.print(_rows(doubtful, above))
    for verdict, told in zip(ORDER[1:], others, strict=True):
        if told:
            console.print(verdict.value)
        for line in _lines(told, above):
            console.print(Padding(Text(line), (0, 0, 0, 2)))


def _above(notes: tuple[FieldNote, ...]) -> str:
    """What all places begin with, up to a mark between names."""
    places = [note.place for note in notes]
    first, last = min(places), max(places)
    shared = first[: sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], zip(first, last, strict=False)))]
    return shared[: max(shared.rfind("/"), shared.rfind(".")) + 1]


def _rows(notes: list[FieldNote], above: str) -> Table:
    table = Table(title="doubtful: look at these", title_justify="left")
    for heading in ("field", "line", "value", "why"):
        table.add_column(heading, overflow="fold")
    for note in notes:
        line = "" if note.line is None else str(note.line)
        table.add_row(*map(Text, (note.place.removeprefix(above), line, note.value, note.why)))
    return table


def _lines(notes: list[FieldNote], above: str) -> Iterator[str]:
    """Those of one reason together."""
    for why, alike in groupby(sorted(notes, key=_why), key=_why):
        yield f"{why}: {', '.join(_field(note, above) for note in alike)}"


def _why(note: FieldNote) -> str:
    """What is used is said to be a key of the recipe: those of one table are told together."""
    key = re.fullmatch(r"is ([a-z_]+)(?:\[\d+\])?\..+", note.why)
    return f"in {key[1]}" if key and note.verdict is Verdict.USED else note.why


def _field(note: FieldNote, above: str) -> str:
    value = note.value if len(note.value) <= LONGEST_VALUE else f"{note.value[:LONGEST_VALUE]}..."
    return f"{note.place.removeprefix(above)} {value}".rstrip()
