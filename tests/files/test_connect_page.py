"""Whole files in docs/connect.md load as they stand there; parts of files at least are TOML."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from kettlebridge.files.service_file import load_service
from kettlebridge.outbound import telemetry
from kettlebridge.outbound.metrics import GAUGES
from tests.files.loader import Loader
from tests.house.tree import ROOT
from tests.outbound.views import VIEW

PAGE = (ROOT / "docs" / "connect.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"^```toml\n(.*?)^```$", PAGE, re.DOTALL | re.MULTILINE)
WHOLE = [block for block in BLOCKS if block.startswith("schema = 1")]
KETTLES = [block for block in WHOLE if "[kettle]" in block]
SERVICES = [block for block in WHOLE if "[kettle]" not in block]


def test_each_way_has_a_whole_kettle_file_and_mixed_boards_have_one() -> None:
    kettles = [tomllib.loads(block) for block in KETTLES]
    assert {kettle["bridge"]["kind"] for kettle in kettles} == {"serial_line", "modbus", "mqtt"}
    assert any("also" in kettle for kettle in kettles)
    assert SERVICES


@pytest.mark.parametrize("block", BLOCKS)
def test_each_block_is_toml(block: str) -> None:
    assert tomllib.loads(block)


@pytest.mark.parametrize("block", KETTLES)
def test_each_whole_kettle_file_loads(loader: Loader, block: str) -> None:
    assert loader.kettle(block).boards


@pytest.mark.parametrize("block", SERVICES)
def test_each_whole_service_file_loads(tmp_path: Path, block: str) -> None:
    (tmp_path / "notify.urls").write_text("json://127.0.0.1/\n", encoding="utf-8")
    path = tmp_path / "service.toml"
    path.write_text(block, encoding="utf-8")
    assert load_service(path).notify


def test_topics_and_figures_that_the_page_names_are_those_that_go_out() -> None:
    keys = set(telemetry.state_values(VIEW)) - {"alarm", "waiting"}
    assert [key for key in sorted(keys) if f"`{key}`" not in PAGE] == []
    assert [gauge.name for gauge in GAUGES if f"`{gauge.name}`" not in PAGE] == []


def test_examples_that_the_page_names_are_there() -> None:
    named = set(re.findall(r"config/kettles/\w+\.toml", PAGE))
    assert named
    assert all((ROOT / name).is_file() for name in named)
