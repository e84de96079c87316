"""Titled tables on the terminal."""

from __future__ import annotations

from rich.console import Console
from rich.table import Table
from rich.text import Text

from kettlebridge.documents.sheet_sections import Section


def show(console: Console, section: Section) -> None:
    """One section; its first column is text, the others are figures."""
    table = Table(title=section.title, title_justify="left", show_header=any(section.head))
    for nth, heading in enumerate(section.head):
        table.add_column(heading, justify="right" if nth else "left")
    for row in section.rows:
        table.add_row(*(Text(cell) for cell in row))
    console.print(table)
