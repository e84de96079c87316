"""`import` writes recipe files beside nothing that was there, and shows every field."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from kettlebridge.cli.main import main
from kettlebridge.files.recipe_file import load_recipe

FOLDER = Path(__file__).parents[1] / "files" / "recipes_made_by_hand"


def test_import_writes_a_recipe_and_reports_every_field(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["import", str(FOLDER / "good" / "everything.xml"), "--into", str(tmp_path)]) == 0
    assert load_recipe(tmp_path / "gatehouse_red.toml").batch_l == 20.0
    out = capsys.readouterr().out
    assert "stir twice" in out
    assert "doubtful" in out


def test_every_field_is_named_and_what_is_doubtful_comes_first_and_alone_in_rows(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    source = str(FOLDER / "good" / "everything.xml")
    assert main(["import", source, "--into", str(tmp_path), "--json"]) == 0
    (one,) = json.loads(capsys.readouterr().out)
    assert main(["import", source, "--into", str(tmp_path), "--replace"]) == 0
    text = capsys.readouterr().out
    folded, sure = "".join(text.split()), [field for field in one["fields"] if field["verdict"] != "doubtful"]
    unnamed = [field["place"] for field in sure if field["place"].split("/", 2)[-1] not in folded]
    rows = [line for line in text.splitlines() if line.startswith("│")]
    assert unnamed == []
    assert "doubtful" in text.splitlines()[2]
    assert not any("is not needed" in row for row in rows)
    assert len(text.splitlines()) < len(one["fields"])


def test_import_tells_a_program_the_same(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["import", str(FOLDER / "good" / "two_recipes.xml"), "--into", str(tmp_path), "--json"]) == 0
    first, second = json.loads(capsys.readouterr().out)
    assert (first["name"], second["name"]) == ("Bare", "Barer")
    assert {field["verdict"] for field in first["fields"]} == {"used", "ignored", "doubtful"}
    assert Path(second["file"]).exists()


def test_import_writes_over_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "bare.toml").write_text("mine")
    assert main(["import", str(FOLDER / "good" / "bare.xml"), "--into", str(tmp_path)]) == 2
    assert "is there already" in capsys.readouterr().err
    assert (tmp_path / "bare.toml").read_text() == "mine"


def test_bad_recipe_writes_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["import", str(FOLDER / "bad" / "alpha_120.xml"), "--into", str(tmp_path)]) == 2
    assert "120 is too big" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_imported_recipe_can_be_planned(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["import", str(FOLDER / "good" / "bare.json"), "--into", str(tmp_path)]) == 0
    kettle = Path(__file__).parents[2] / "config" / "kettles" / "thimble.toml"
    assert main(["plan", str(tmp_path / "bare.toml"), "--kettle", str(kettle), "--litres", "6"]) == 0
    assert "Bare in thimble" in capsys.readouterr().out
