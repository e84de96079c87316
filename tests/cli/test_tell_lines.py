"""What is printed for copying is taken as it stands."""

from __future__ import annotations

import shlex
from pathlib import Path

import pytest

from kettlebridge.cli.main import parser
from kettlebridge.cli.state_folder import state_folder
from kettlebridge.cli.tell_lines import tell_line

ENVIRONMENT = {"XDG_STATE_HOME": "/var/lib/ilka"}


@pytest.mark.parametrize("words", [("start",), ("confirm", "2.ask.0", "--code CODE"), ("extend", "-24", "--step 10")])
@pytest.mark.parametrize("folder", [Path("/srv/a day/state"), Path("tried")])
def test_the_line_is_one_that_the_command_line_takes(folder: Path, words: tuple[str, ...]) -> None:
    line = tell_line(folder, "saddle", *words, environment=ENVIRONMENT)
    program, *given = shlex.split(line)
    read = parser({"tell"}).parse_args(given)
    assert (program, read.kettle, read.what, read.state) == ("kettlebridge", "saddle", words[0], folder)


def test_the_usual_folder_is_not_named() -> None:
    usual = state_folder(None, ENVIRONMENT)
    assert tell_line(usual, "saddle", "start", environment=ENVIRONMENT) == "kettlebridge tell saddle start"
