"""Whole kettle files in docs/connect.md load as they stand there; parts of files at least are TOML."""

from __future__ import annotations

import re
import tomllib

import pytest

from tests.files.loader import Loader
from tests.house.tree import ROOT

PAGE = (ROOT / "docs" / "connect.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"^```toml\n(.*?)^```$", PAGE, re.DOTALL | re.MULTILINE)
WHOLE = [block for block in BLOCKS if block.startswith("schema = 1")]


def test_there_are_blocks_of_both_sorts() -> None:
    assert len(BLOCKS) > len(WHOLE) > 0


@pytest.mark.parametrize("block", BLOCKS)
def test_each_block_is_toml(block: str) -> None:
    assert tomllib.loads(block)


@pytest.mark.parametrize("block", WHOLE)
def test_each_whole_file_loads(loader: Loader, block: str) -> None:
    assert loader.kettle(block).boards


def test_examples_that_the_page_names_are_there() -> None:
    named = set(re.findall(r"config/kettles/\w+\.toml", PAGE))
    assert named
    assert all((ROOT / name).is_file() for name in named)
