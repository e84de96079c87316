"""The check on every scenario's record can fail: it sees an event that was changed, and one that is not there."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from kettlebridge.app import JOURNAL_NAME
from kettlebridge.cli.main import main
from tests.cli.kettles import example, short_day
from tests.replaying import differences


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A short day, lived once."""
    folder = tmp_path_factory.mktemp("whole")
    given = ("--kettle", str(example("thimble")), "--profile", str(short_day(folder)), "--state", str(folder))
    assert main(["demo", *given, "--hands-off", "--until-complete", "--speed", "max", "--http", "0"]) == 0
    return folder


@pytest.fixture
def copied(whole: Path) -> Iterator[Path]:
    """A copy to spoil, where the check on this module's own records does not look."""
    with TemporaryDirectory() as elsewhere:
        yield shutil.copytree(whole, Path(elsewhere) / "copied")


@pytest.mark.parametrize(
    "spoilt",
    ["UPDATE event SET code = 'step_done' WHERE code = 'step_begun'", "DELETE FROM event WHERE position = 1", ""],
)
def test_a_record_whose_events_are_not_those_of_its_inputs_is_found(copied: Path, spoilt: str) -> None:
    with closing(sqlite3.connect(copied / JOURNAL_NAME)) as connection, connection:
        changed = connection.execute(spoilt).rowcount if spoilt else 0
    assert len(list(differences(copied))) == (1 if changed else 0)
    assert (changed > 0) is bool(spoilt)
