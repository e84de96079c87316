"""Each picture in the documents is one that `make pictures` draws, and each that it draws is shown."""

from __future__ import annotations

import re
from pathlib import Path

from tests.house.tree import ROOT
from tests.pictures import NAMES, PICTURES

PAGES = (ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md")))


def shown() -> set[Path]:
    """Files that a document shows, by their place in the tree."""
    found: set[Path] = set()
    for page in PAGES:
        for place in re.findall(r"!\[[^\]]*\]\(([^)]+\.png)\)", page.read_text(encoding="utf-8")):
            found.add((page.parent / place).resolve())
    return found


def test_every_picture_is_drawn_by_the_tool_and_shown_in_a_document() -> None:
    there = set((ROOT / "docs").rglob("*.png"))
    assert there == {PICTURES / f"{name}.png" for name in NAMES}
    assert shown() == there
