"""Figures are changed in a kettle file, and nothing else is."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from kettlebridge.files.examples import config_folder
from kettlebridge.files.kettle_edit import TwoPoints, with_figures, write_figures
from kettlebridge.files.kettle_file import load_kettle
from kettlebridge.model.errors import FileError

SADDLE = config_folder() / "kettles" / "saddle.toml"


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    return Path(shutil.copy(SADDLE, tmp_path / "saddle.toml"))


def test_only_the_lines_of_the_figures_change_and_comments_stay(copy: Path) -> None:
    write_figures(copy, {"loss_w_per_k": 6.9, "boil_off_l_per_h": 2.85})
    before, after = SADDLE.read_text().splitlines(), copy.read_text().splitlines()
    changed = [(old, new) for old, new in zip(before, after, strict=True) if old != new]
    assert [new.split("#")[0].strip() for _, new in changed] == ["loss_w_per_k = 6.9", "boil_off_l_per_h = 2.85"]
    assert "# wrapped in felt" in changed[0][1]
    assert load_kettle(copy).kettle.boil_off_l_per_h == 2.85


def test_what_could_not_be_loaded_is_not_written(copy: Path) -> None:
    with pytest.raises(FileError) as refusal:
        write_figures(copy, {"boil_off_l_per_h": -3.0})
    assert str(copy) in str(refusal.value)
    assert copy.read_text() == SADDLE.read_text()
    assert [path.name for path in copy.parent.iterdir()] == ["saddle.toml"]


def test_text_without_a_kettle_is_refused() -> None:
    with pytest.raises(ValueError, match=r"no \[kettle\]"):
        with_figures("schema = 1\n", {"boil_off_l_per_h": 2.0})


def test_two_points_take_the_place_of_an_offset() -> None:
    text = '[kettle]\nheater_w = 2000 # plate\n\n[probe.mash]\nsource = "28"\noffset_c = 0.3\nrole = "control"\n'
    points = TwoPoints(probe="mash", read_c=(0.2, 99.1), true_c=(0.0, 99.5))
    written = with_figures(text, {}, points)
    assert "offset_c" not in written
    assert "read_c = [0.2, 99.1]" in written
    assert "true_c = [0.0, 99.5]" in written
    assert "heater_w = 2000 # plate" in written


def test_points_of_a_probe_that_is_not_there_are_refused() -> None:
    points = TwoPoints(probe="mash", read_c=(0.2, 99.1), true_c=(0.0, 99.5))
    with pytest.raises(ValueError, match=r"probe\.mash"):
        with_figures("[kettle]\n", {}, points)
