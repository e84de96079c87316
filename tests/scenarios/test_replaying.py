"""The check on every scenario's record can fail: it sees an event that was changed, and one that is not there."""

from __future__ import annotations

import sqlite3
from contextlib import closing

import pytest

from kettlebridge.app import JOURNAL_NAME
from kettlebridge.cli.main import main
from tests.cli.kettles import example, short_day
from tests.replaying import differences


@pytest.mark.parametrize(
    "spoilt",
    ["UPDATE event SET code = 'step_done' WHERE code = 'step_begun'", "DELETE FROM event WHERE position = 1", ""],
)
def test_a_record_whose_events_are_not_those_of_its_inputs_is_found(
    tmp_path_factory: pytest.TempPathFactory, spoilt: str
) -> None:
    folder = tmp_path_factory.mktemp("spoilt")
    given = ("--kettle", str(example("thimble")), "--profile", str(short_day(folder)), "--state", str(folder))
    assert main(["demo", *given, "--hands-off", "--until-complete", "--speed", "max", "--http", "0"]) == 0
    assert list(differences(folder)) == []
    with closing(sqlite3.connect(folder / JOURNAL_NAME)) as connection, connection:
        changed = connection.execute(spoilt).rowcount if spoilt else 0
    assert len(list(differences(folder))) == (1 if changed else 0)
    assert (changed > 0) is bool(spoilt)
