"""`plan` shows the day, writes it down, and says why there is none."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from kettlebridge.cli.main import main
from kettlebridge.files.examples import config_folder
from kettlebridge.files.profile_file import load_profile

PALE = str(config_folder() / "recipes" / "corvane_pale.toml")
SADDLE = str(config_folder() / "kettles" / "saddle.toml")
THIMBLE = str(config_folder() / "kettles" / "thimble.toml")


def test_plan_shows_the_day(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", PALE, "--kettle", SADDLE, "--ready", "07:30"]) == 0
    out = capsys.readouterr().out
    assert "Corvane Pale in saddle" in out
    assert "07:30" in out
    assert "Strike water, heater off" in out


def test_plan_writes_sheet_and_profile(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    page, profile = tmp_path / "sheet.html", tmp_path / "day.toml"
    written = ["--html", str(page), "--profile", str(profile), "--ready", "07:30"]
    assert main(["plan", PALE, "--kettle", SADDLE, *written]) == 0
    assert page.read_text(encoding="utf-8").startswith("<!doctype html>")
    assert load_profile(profile).ready_at == "07:30"
    assert main(["check", str(profile), SADDLE]) == 0
    assert "fits" in capsys.readouterr().out


def test_plan_tells_a_program_the_same(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", PALE, "--kettle", SADDLE, "--json", "--litres", "9", "--efficiency", "70"]) == 0
    values = json.loads(capsys.readouterr().out)
    assert values["recipe"]["batch_l"] == 9.0
    assert values["recipe"]["efficiency_fraction"] == 0.7
    assert values["fits"] is True


def test_day_that_does_not_fit_makes_no_profile_and_says_why(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    profile = tmp_path / "day.toml"
    assert main(["plan", PALE, "--kettle", THIMBLE, "--profile", str(profile)]) == 1
    out = capsys.readouterr().out
    assert "Does not fit" in out
    assert "L of it fit thimble: --litres says how much" in out
    assert not profile.exists()


def test_mistakes_of_both_files_are_told_at_once(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bad_recipe, bad_kettle = tmp_path / "recipe.toml", tmp_path / "kettle.toml"
    bad_recipe.write_text("schema = 2\n")
    bad_kettle.write_text("schema = 3\n")
    assert main(["plan", str(bad_recipe), "--kettle", str(bad_kettle)]) == 2
    err = capsys.readouterr().err
    assert f"{bad_recipe}:1: schema" in err
    assert f"{bad_kettle}:1: schema" in err


@pytest.mark.parametrize(
    ("option", "value"),
    [("--litres", "0"), ("--litres", "nan"), ("--efficiency", "110"), ("--ready", "24:00"), ("--tap", "warm")],
)
def test_odd_options_are_refused(option: str, value: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit, match="2"):
        main(["plan", PALE, "--kettle", SADDLE, option, value])
    assert option in capsys.readouterr().err


def test_day_that_cannot_be_is_told_in_a_line(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", PALE.replace("corvane_pale", "ropewalk_amber"), "--kettle", SADDLE, "--litres", "200"]) == 1
    capsys.readouterr()
    assert main(["plan", PALE, "--kettle", SADDLE, "--html", "/nowhere/at/all.html"]) == 2
    assert "cannot be written" in capsys.readouterr().err


LOADED = """
import sys
from kettlebridge.cli.main import main
assert main(sys.argv[1:]) == 0
print(*sys.modules, file=sys.stderr)
"""


def test_a_sheet_loads_nothing_that_it_does_not_need() -> None:
    """Of what takes long: who writes no profile needs no writer of one, and nobody here needs a page or a simulator."""
    words = ["plan", PALE, "--kettle", SADDLE]
    done = subprocess.run([sys.executable, "-c", LOADED, *words], capture_output=True, text=True, check=True)
    loaded = set(done.stderr.split())
    assert "kettlebridge.files.recipe_tables" in loaded
    rooms = ("core", "runtime", "drivers", "journal", "outbound", "web", "files.profile_")
    unwanted = ("tomlkit", "starlette", "sqlite3", "kettlesim", *(f"kettlebridge.{room}" for room in rooms))
    assert [name for name in loaded if name.startswith(unwanted)] == []
