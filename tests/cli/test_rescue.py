"""`rescue` says what mends it, and what comes of it otherwise."""

from __future__ import annotations

import json

import pytest

from kettlebridge.cli.main import main
from kettlebridge.files.examples import config_folder

PALE = str(config_folder() / "recipes" / "corvane_pale.toml")
SADDLE = str(config_folder() / "kettles" / "saddle.toml")
DAY = [PALE, "--kettle", SADDLE]


def test_a_hot_mash_is_told_its_litres_of_cold_water(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rescue", "dough-in", *DAY, "--at-c", "69"]) == 0
    found, *mends, unmended = capsys.readouterr().out.splitlines()
    assert found == "The mash stands at 69.0 °C; 66.0 °C is wanted."
    assert mends[0].startswith("- Stir in 1.0 L of 12 °C")
    assert unmended.startswith("If nothing is done: ")


def test_a_program_is_told_the_figures(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rescue", "wort", *DAY, "--volume", "23", "--at-c", "90", "--gravity", "1.04", "--json"]) == 0
    values = json.loads(capsys.readouterr().out)
    assert values["found"]["values"]["volume_l"] == pytest.approx(22.24, abs=0.01)
    assert {mend["code"] for mend in values["mends"]} == {"boil_longer", "sugar", "malt_extract"}


@pytest.mark.parametrize(
    "words",
    [["stuck"], ["late-hop", "--hop", "Tansy Hill", "--left", "5"], ["boil-over", "--lost", "1", "--left", "50"]],
)
def test_every_trouble_is_answered(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    trouble, *rest = words
    assert main(["rescue", trouble, *DAY, *rest]) == 0
    assert "If nothing is done" in capsys.readouterr().out


def test_figures_that_make_no_sense_are_a_usage_error(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rescue", "late-hop", *DAY, "--hop", "Nowhere", "--left", "5"]) == 2
    assert "no hop Nowhere" in capsys.readouterr().err
    with pytest.raises(SystemExit) as ended:
        main(["rescue", "dough-in", *DAY, "--at-c", "nan"])
    assert ended.value.code == 2


@pytest.mark.parametrize(
    ("volume", "gravity", "why"), [("300", "1.04", "saddle holds 30 L"), ("30", "1.12", "% efficiency, more than")]
)
def test_wort_that_cannot_be_is_doubted(
    volume: str, gravity: str, why: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["rescue", "wort", *DAY, "--volume", volume, "--gravity", gravity]) == 2
    assert why in capsys.readouterr().err
