"""The contributors' page stays true: it knows every room and every make target, and names no file that is gone."""

from __future__ import annotations

import re

from tests.house.tree import ROOT, entries

PAGE = (ROOT / "DEVELOPERS.md").read_text()


def test_page_tells_every_make_target() -> None:
    targets = re.search(r"^\.PHONY: (.*)$", (ROOT / "Makefile").read_text(), re.MULTILINE)
    assert targets
    assert [target for target in targets[1].split() if f"`make {target}`" not in PAGE] == []


def test_page_tells_every_room() -> None:
    rooms = [path for path in entries(ROOT / "service" / "kettlebridge") if not path.name.startswith(("_", "py.typed"))]
    told = [f"`{path.relative_to(ROOT)}{'/' if path.is_dir() else ''}`" for path in rooms]
    assert [room for room in told if room not in PAGE] == []


def test_every_path_on_the_page_is_there() -> None:
    tops = "|".join(re.escape(path.name) for path in entries(ROOT))
    paths = re.findall(rf"[`(]((?:{tops})(?:/[\w./-]*)?)[`)]", PAGE)
    assert "config/locks/" in paths
    assert [path for path in paths if not (ROOT / path).exists()] == []
