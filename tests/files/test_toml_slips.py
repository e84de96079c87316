"""Who writes a file by hand and slips is told what to write, in words for somebody who never heard of TOML."""

from __future__ import annotations

from pathlib import Path

import pytest

from kettlebridge.files.document import read_document
from kettlebridge.files.toml_slips import SLIPS, advice_on
from kettlebridge.model.errors import FileError

BEFORE = "schema = 1\n[kettle]\n"
SLIPPED: dict[str, str] = {
    "boil_off_l_per_h = 3,5": "a number has a point and no comma: 3.5",
    "boil_off_l_per_h = 3,5   # measured": "a number has a point and no comma: 3.5",
    "heater_w = 3200 W": "the number alone: 3200; its unit is in the key's name",
    "heater_w = 3.2kW": "the number alone: 3.2; its unit is in the key's name",
    "heater_w = .5": "a point has a digit on both sides",
    "heater_w = 5.": "a point has a digit on both sides",
    "heater_w = 03200": "a number does not begin with 0",
    "heater_w =": "what it is to be is missing after the =",
    "name = mirela": 'text stands in quotation marks: "mirela"',
    "name = “mirela”": "quotation marks are the straight ones",
    'name = "mirela': "the quotation mark at its end is missing",
    'name = "a"\nname = "b"': "this key stands above already",
    'port = "C:\\Users\\ilka"': "a \\ begins a sign of its own there",
    'name : "mirela"': "after a key comes =, not :",
    'name "mirela"': "after a key comes =",
    "heater w = 3200": "a key is one word, as in heater_w",
    "höhe_m = 3": "a key is made of a-z, 0-9, _ and -",
    "sparges = True": "it is true or false, in small letters",
    "// the small one": "a remark begins with #",
    "[probe.wall": "a table's name ends with ]",
    "[kettle]": "[kettle] stands above already: join the two",
    "mark_l = [1, 2\nmark_cm = [3, 4]": "above this line a ] is missing",
}


def told(path: Path) -> str:
    with pytest.raises(FileError) as caught:
        read_document(path)
    return str(caught.value)


@pytest.mark.parametrize("slipped", SLIPPED, ids=lambda slipped: slipped.replace("\n", " / "))
def test_a_usual_slip_is_told_with_what_to_write(tmp_path: Path, slipped: str) -> None:
    path = tmp_path / "kettle.toml"
    path.write_text(f"{BEFORE}{slipped}\n", encoding="utf-8")
    line = 3 + slipped.count("\n")
    assert told(path).startswith(f"{path}:{line}: {SLIPPED[slipped]}")


def test_what_is_no_usual_slip_is_told_in_the_words_of_the_parser() -> None:
    assert advice_on("a = 1 = 2", "Expected newline or end of document after a statement") is None


def test_each_kind_of_slip_is_in_this_list() -> None:
    last = [each.splitlines()[-1] for each in SLIPPED]
    unseen = [slip.found.pattern for slip in SLIPS if not slip.in_words and not any(map(slip.found.search, last))]
    assert unseen == []
