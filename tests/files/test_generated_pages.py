"""What docs say of the keys is what the program takes."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from kettlebridge.files.kettle_tables import KettleTables
from kettlebridge.files.key_tables import renewed, tables_text
from kettlebridge.files.keys import KeyRow, key_rows
from kettlebridge.files.profile_tables import ProfileTables
from kettlebridge.files.recipe_tables import RecipeTables
from kettlebridge.files.schemas import SCHEMAS, schema_text, write_schemas
from kettlebridge.model.reading import BoardInput
from tests.files.loader import Loader
from tests.files.texts import KETTLE, PROFILE, swapped

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "files.md"
RENEW = "renew it with: .venv/bin/python -m kettlebridge.files.{}"


def test_page_of_keys_is_current() -> None:
    page = PAGE.read_text(encoding="utf-8")
    assert renewed(page) == page, RENEW.format("key_tables docs/files.md")
    assert all(tables_text(model) in page for model in SCHEMAS.values())


@pytest.mark.parametrize("name", SCHEMAS)
def test_schemas_are_current(name: str) -> None:
    committed = (ROOT / "docs" / "schemas" / name).read_text(encoding="utf-8")
    assert committed == schema_text(SCHEMAS[name]), RENEW.format("schemas docs/schemas")


def test_schemas_are_written_where_they_are_wanted(tmp_path: Path) -> None:
    write_schemas(tmp_path / "new")
    assert sorted(path.name for path in (tmp_path / "new").iterdir()) == sorted(SCHEMAS)
    assert (
        json.loads((tmp_path / "new" / "kettle.schema.json").read_text(encoding="utf-8"))["additionalProperties"]
        is False
    )


def rows() -> list[KeyRow]:
    return [row for model in (KettleTables, ProfileTables, RecipeTables) for row in key_rows(model).values()]


def test_every_key_says_what_it_means() -> None:
    assert [row.path for row in rows() if not row.meaning] == []


def test_every_number_with_a_unit_has_it_in_its_name() -> None:
    endings = {"L": "_l", "W": "_w", "V": "_v", "m": "_m", "°C": "_c", "L/h": "_l_per_h", "kg": "_kg", "s": "_s"}
    endings |= {
        "W/K": "_w_per_k",
        "L/kg": "_l_per_kg",
        "L/min": "_l_per_min",
        "min": "_min",
        "g": "grams",
        "A": "_a",
        "ms": "_ms",
    }
    endings |= {
        "%": "_percent",
        "EBC": "_ebc",
        "IBU": "_ibu",
        "SG": "_sg",
        "volumes": "_volumes",
        "billion": "_billion",
    }
    odd = [row.path for row in rows() if row.unit and not row.path[-1].endswith((endings[row.unit], "litres", "kg"))]
    assert odd == []


def test_roles_of_inputs_are_those_of_the_board() -> None:
    (role,) = (row for row in rows() if row.path == ("input", "NAME", "role"))
    assert {word.upper() for word in role.allowed.split(", ")} == {member.name for member in BoardInput}


def test_mistakes_shown_on_the_page_are_worded_as_the_program_words_them(loader: Loader) -> None:
    shown = re.findall(r"^my_\w+\.toml:\d+: (.*)$", PAGE.read_text(encoding="utf-8"), re.MULTILINE)
    kettle = swapped(KETTLE, "heater_w = 2500", "heater_w = 0")
    kettle = swapped(kettle, "28A1B2C3040506B4", "285E3D910700005E")
    profile = swapped(PROFILE, 'what = "lift"', 'what = "lift"\nkeep_c = 66')
    told = [*loader.mistakes(loader.kettle, kettle), *loader.mistakes(loader.profile, profile)]
    assert [line.split(": ", 1)[1] for line in told] == shown
