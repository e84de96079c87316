"""What becomes of what commands raise; what is loaded for which; where things are kept."""

from __future__ import annotations

import os
import subprocess
import sys
from argparse import ArgumentTypeError
from pathlib import Path

import pytest

from kettlebridge.cli import command_page
from kettlebridge.cli.main import COMMANDS, main, parser, told
from kettlebridge.cli.speeds import limit, speed
from kettlebridge.cli.state_folder import state_folder
from kettlebridge.model.errors import LinkError, LinkReason
from tests.cli.kettles import example, kettle_at, short_day

PAGE = Path(__file__).parents[2] / "docs" / "commands.md"


def test_every_command_can_be_loaded_and_explains_itself() -> None:
    whole = parser(load=set(COMMANDS))
    assert set(command_page.subcommands(whole)) == set(COMMANDS)


def test_the_page_of_commands_is_current() -> None:
    """Spaces apart: versions of Python break lines of help in different places."""
    page = PAGE.read_text(encoding="utf-8")
    assert command_page.renewed(page).split() == page.split(), (
        "renew it with: .venv/bin/python -m kettlebridge.cli.command_page docs/commands.md"
    )


@pytest.mark.process
def test_serving_begins_without_a_simulator_a_web_server_or_anything_that_a_service_file_would_name() -> None:
    code = "import sys; from kettlebridge.cli.main import parser; parser(load={'serve'}); print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = set(done.stdout.split())
    assert "kettlebridge.cli.serve" in loaded
    assert not loaded & {"kettlesim", "rich", "segno", "kettlebridge.cli.demo"}
    assert not loaded & {"starlette", "uvicorn", "jinja2", "prometheus_client", "kettlebridge.outbound"}


@pytest.mark.process
def test_nobody_else_has_a_say_in_what_a_file_means(tmp_path: Path) -> None:
    """A package brings a plugin for pydantic, which would be told of every file that is read."""
    (tmp_path / "meddler.py").write_text("raise SystemExit('it was asked')\n")
    described = tmp_path / "meddler-1.dist-info"
    described.mkdir()
    (described / "METADATA").write_text("Metadata-Version: 2.1\nName: meddler\nVersion: 1\n")
    (described / "entry_points.txt").write_text("[pydantic]\nmeddler = meddler:plugin\n")
    done = subprocess.run(
        [sys.executable, "-m", "kettlebridge", "check", str(example("thimble"))],
        capture_output=True,
        text=True,
        env=os.environ | {"PYTHONPATH": str(tmp_path), "PYDANTIC_DISABLE_PLUGINS": ""},
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")


def test_no_command_is_a_usage_error_that_shows_them_all(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([]) == 2
    shown = capsys.readouterr().err
    assert [name for name in COMMANDS if f"\n    {name}" not in shown] == []


def test_a_link_error_says_what_happened_where_and_what_to_do() -> None:
    (line,) = told(LinkError(LinkReason.NO_PORT, "/dev/ttyACM0 is not there"))
    assert "/dev/ttyACM0 is not there" in line
    assert "plugged in" in line


@pytest.mark.parametrize(
    ("given", "environment", "folder"),
    [
        (Path("here"), {"XDG_STATE_HOME": "/var/state"}, Path("here")),
        (None, {"XDG_STATE_HOME": "/var/state"}, Path("/var/state/kettlebridge")),
        (None, {"XDG_STATE_HOME": "relative"}, Path.home() / ".local/state/kettlebridge"),
        (None, {}, Path.home() / ".local/state/kettlebridge"),
    ],
)
def test_the_state_folder_is_the_given_one_or_that_of_the_standard(
    given: Path | None, environment: dict[str, str], folder: Path
) -> None:
    assert state_folder(given, environment) == folder


@pytest.mark.parametrize("text", ["0", "-1", "nan", "inf", "fast"])
def test_a_speed_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(ArgumentTypeError):
        speed(text)


def test_speeds_are_numbers_or_as_fast_as_it_goes() -> None:
    assert limit(speed("2.5")) == 2.5
    assert limit(speed("max")) is None


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--profile", "thimble"], "NAME=FILE"),
        (["--profile", "other=x.toml"], "no kettle other is loaded"),
        (["--profile", "thimble=DAY", "--profile", "thimble=DAY"], "given twice"),
    ],
)
def test_serve_refuses_profiles_that_make_no_sense(
    arguments: list[str], words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    day = short_day(tmp_path)
    (tmp_path / "x.toml").write_text(day.read_text())
    typed = [part.replace("x.toml", str(tmp_path / "x.toml")).replace("DAY", str(day)) for part in arguments]
    assert main(["serve", str(example("thimble")), "--http", "0", *typed, "--state", str(tmp_path / "state")]) == 2
    assert words in capsys.readouterr().err
    assert not (tmp_path / "state").exists()


def test_serve_with_nothing_to_brew_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["serve", str(kettle_at(tmp_path, "/dev/none")), "--http", "0", "--state", str(tmp_path)]) == 2
    assert "kettle thimble: there is no unfinished batch" in capsys.readouterr().err


def test_serve_in_a_folder_that_cannot_be_made_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "file").write_text("")
    kettle, day = kettle_at(tmp_path, "/dev/none"), short_day(tmp_path)
    given = ["--profile", f"thimble={day}", "--state", str(tmp_path / "file" / "state")]
    assert main(["serve", str(kettle), "--http", "0", *given]) == 1
    assert "cannot be made" in capsys.readouterr().err


def test_a_profile_that_is_not_there_is_told_before_a_kettle_that_is_not_given(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["bench", "nothere.toml"]) == 2
    assert "nothere.toml" in capsys.readouterr().err
