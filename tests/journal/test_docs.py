"""The page on the journal says what the code does."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

from kettlebridge.journal import rows, schema, store
from kettlebridge.journal.opening import open_to_write
from kettlebridge.journal.work import Pace

PAGE = (Path(__file__).parents[2] / "docs" / "journal.md").read_text(encoding="utf-8")


def _columns_of_page() -> set[tuple[str, str]]:
    found = set()
    table = ""
    for line in PAGE.split("## Tables")[1].splitlines():
        cells = [cell.strip() for cell in line.split("|")]
        if len(cells) == 5 and cells[2].startswith("`"):
            table = cells[1].strip("`") or table
            found |= {(table, name.strip(" `")) for name in cells[2].split(",")}
    return found


def test_the_page_names_every_table_and_column_and_no_other(path: Path) -> None:
    opened = open_to_write(path, "0.1.0")
    opened.close()
    with closing(sqlite3.connect(path)) as connection:
        there = set(
            connection.execute(
                "SELECT m.name, c.name FROM sqlite_master AS m, pragma_table_info(m.name) AS c WHERE m.type = 'table'"
            )
        )
    assert _columns_of_page() == there


def test_the_page_shows_the_positions_as_the_code_has_them() -> None:
    layout = PAGE.split("```\n")[1]
    described = "\n".join(line.removeprefix("    ") for line in (rows.__doc__ or "").splitlines())
    assert layout in described


def test_the_page_has_the_codes_figures() -> None:
    pace = Pace()
    for figure in (
        f"up to {pace.commit_every_s:g} s of real time",
        f"for {pace.commit_every_items}\n  others",
        f"up to {pace.rows_kept:,} ",
        f"after {store.STALLED_AFTER_S:g} s",
        f"at least every {pace.back_off_longest_s:g} s",
        f"0x{schema.APPLICATION_ID:X}",
        "{}.{} or newer".format(*schema.OLDEST_SQLITE),
    ):
        assert figure in PAGE, figure
