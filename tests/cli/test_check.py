"""`check` names every mistake at once, and whether a profile fits."""

from __future__ import annotations

from pathlib import Path

import pytest

from kettlebridge.cli.main import main
from kettlebridge.files.examples import config_folder, example_kettles
from tests.brewing.sheets import example_recipes
from tests.cli.kettles import example, kettle_at


def test_files_without_a_mistake_are_named_with_what_they_are(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(example("thimble")), str(example("quillet_bitter"))]) == 0
    kettle, profile = capsys.readouterr().out.splitlines()
    assert kettle.endswith('kettle "thimble", no mistakes')
    assert profile.endswith('profile "Quillet Bitter", no mistakes, fits')


def test_a_kettle_at_which_nobody_can_answer_is_told_and_what_to_write(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["check", str(kettle_at(tmp_path, "/dev/none", code=None))]) == 0
    right, mind = capsys.readouterr().out.splitlines()
    assert right.endswith("no mistakes")
    assert mind.startswith('Mind, kettle "thimble": nobody can answer at this kettle')
    assert "[safety] code" in mind


@pytest.mark.parametrize("name", [path.stem for path in example_kettles()])
def test_at_every_example_somebody_can_answer(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(example(name))]) == 0
    assert "Mind" not in capsys.readouterr().out


def test_every_mistake_of_every_file_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    kettle = kettle_at(tmp_path, "/dev/none", code="no-code")
    kettle.write_text(kettle.read_text().replace("capacity_l = 12", "capacity_l = -1"))
    profile = tmp_path / "profile.toml"
    profile.write_text('schema = 1\nname = "x"\n[water]\nfill_l = 5\n[[step]]\ndo = "hum"\n')
    assert main(["check", str(kettle), str(profile)]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert "kettle.capacity_l" in said.err
    assert "safety.code" in said.err
    assert f"{profile}:6: step[1].do" in said.err


def test_a_profile_too_big_for_the_kettle_is_a_mistake_with_its_litres(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(example("thimble")), str(example("long_crossing_porter"))]) == 2
    assert "32.0 L would be in the kettle, which holds 12.0 L" in capsys.readouterr().err


def test_two_kettles_on_one_port_are_a_mistake(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    first = kettle_at(tmp_path, "/dev/none")
    second = tmp_path / "second.toml"
    second.write_text(first.read_text().replace('name = "thimble"', 'name = "other"').replace('"3A51"', '"3A52"'))
    assert main(["check", str(first), str(second)]) == 2
    assert "is taken by" in capsys.readouterr().err


@pytest.mark.parametrize("content", ["", "a = 1", "kettle = 1\nwater = 2"])
def test_a_file_that_is_neither_is_said_to_be_neither(
    content: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "what.toml"
    path.write_text(content)
    assert main(["check", str(path)]) == 2
    assert "neither a kettle file" in capsys.readouterr().err


def test_recipes_are_known_by_their_grist(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    good = example_recipes()[0]
    bad = tmp_path / "bad.toml"
    bad.write_text(good.read_text().replace("alpha_percent = 9.5", "alpha_percent = 95"))
    assert main(["check", str(good)]) == 0
    assert 'recipe "Corvane Pale", no mistakes' in capsys.readouterr().out
    assert main(["check", str(bad)]) == 2
    assert "hop[1].alpha_percent: 95 is too big" in capsys.readouterr().err


def test_a_file_that_is_not_there_is_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(tmp_path / "gone.toml")]) == 2
    assert "cannot be read" in capsys.readouterr().err


def test_a_file_given_twice_is_checked_once(capsys: pytest.CaptureFixture[str]) -> None:
    kettle = str(config_folder() / "kettles" / "saddle.toml")
    assert main(["check", kettle, kettle]) == 0
    assert len(capsys.readouterr().out.splitlines()) == 1
