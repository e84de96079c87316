"""The tables of keys in docs/files.md: `python -m kettlebridge.files.key_tables docs/files.md` renews them in place."""

from __future__ import annotations

import re
import sys
from collections import defaultdict
from collections.abc import Iterable

from pydantic import BaseModel

from kettlebridge.files.kettle_tables import KettleTables
from kettlebridge.files.keys import NAME, TAGS, KeyRow, RowPath, key_rows
from kettlebridge.files.profile_tables import ProfileTables
from kettlebridge.files.recipe_tables import RecipeTables
from kettlebridge.files.renewal import renew
from kettlebridge.files.service_tables import ServiceTables

FILES: dict[str, type[BaseModel]] = {
    "kettle": KettleTables,
    "profile": ProfileTables,
    "recipe": RecipeTables,
    "service": ServiceTables,
}

TAGGED_ARRAYS = frozenset({"step"})

_PLACE = re.compile(r"(<!-- keys of a (\w+) file, generated -->\n).*?(<!-- end of keys -->)", re.DOTALL)
_HEAD = "| key | unit | allowed | left out | meaning |\n|---|---|---|---|---|"


def renewed(page: str) -> str:
    """The page with the tables between its markers made afresh."""
    return _PLACE.sub(lambda place: f"{place[1]}\n{tables_text(FILES[place[2]])}\n\n{place[3]}", page)


def tables_text(model: type[BaseModel]) -> str:
    """One Markdown table for each table of the file; tables with the same keys are one with two headings."""
    rows = key_rows(model)
    around = {path[:depth] for path in rows for depth in range(1, len(path))}
    inner: dict[RowPath, list[KeyRow]] = defaultdict(list)
    for row in rows.values():
        if row.path not in around:
            inner[row.path[:-1]].append(row)
    headings: dict[str, list[str]] = defaultdict(list)
    for table, keys in inner.items():
        array = table in rows and rows[table].array
        headings[_body(keys)].append(_heading(table, array=array))
    return "\n\n".join(f"**{', '.join(names)}**\n\n{_HEAD}\n{body}" for body, names in headings.items())


def _heading(table: RowPath, *, array: bool) -> str:
    if not table:
        return "At the top"
    tagged = table[0] in TAGS and len(table) > 1
    name = ".".join((table[0], *table[2:]) if tagged else table)
    brackets = f"`[[{name}]]`" if array or table[0] in TAGGED_ARRAYS else f"`[{name}]`"
    if not tagged:
        return brackets
    whole = len(table) == 2 or table[2:] == (NAME,)
    return f'{brackets} with `{TAGS[table[0]]} = "{table[1]}"`' if whole else f"{brackets} of a `{table[1]}`"


def _body(rows: Iterable[KeyRow]) -> str:
    return "\n".join(_line(row) for row in rows)


def _line(row: KeyRow) -> str:
    allowed = row.allowed or "a table without keys"
    default = "**required**" if row.default is None else row.default
    meaning = f"{row.meaning}; {row.because}" if row.because else row.meaning
    cells = (f"`{row.path[-1]}`", row.unit, allowed, default, meaning)
    return f"| {' | '.join(cells)} |"


if __name__ == "__main__":
    renew(sys.argv[1], renewed)
