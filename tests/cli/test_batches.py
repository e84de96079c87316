"""`batches` lists what the record holds, for people and for programs."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from kettlebridge.app import JOURNAL_NAME
from kettlebridge.cli.main import main
from kettlebridge.journal.store import open_journal
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.ids import BatchId, KettleId
from kettlebridge.ports import BatchHeader
from kettlebridge.runtime.clock import OpenGate
from tests.documents.builders import plan


def header(batch: str) -> BatchHeader:
    return BatchHeader(
        batch=BatchId(batch),
        kettle=KettleId("thimble"),
        plan=plan(),
        started_utc_s=1_800_000_000.0,
        program="0",
        python="3",
    )


async def recorded(folder: Path) -> None:
    async with open_journal(folder / JOURNAL_NAME, gate=OpenGate(), program="0") as journal:
        await journal.begin(header("thimble-1"))
        await journal.end(BatchId("thimble-1"), BatchState.COMPLETE)
        await journal.begin(header("thimble-2"))


async def test_batches_are_listed_newest_first_with_how_they_ended(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TZ", "Europe/Oslo")
    await recorded(tmp_path)
    assert main(["batches", "--state", str(tmp_path)]) == 0
    assert capsys.readouterr().out.splitlines() == [
        "thimble-2  2027-01-15 09:00  Short day: Not finished",
        "thimble-1  2027-01-15 09:00  Short day: Done",
    ]


async def test_json_has_the_states_of_the_standard(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    await recorded(tmp_path)
    assert main(["batches", "--json", "--state", str(tmp_path)]) == 0
    newest, oldest = json.loads(capsys.readouterr().out)
    assert (newest["batch"], newest["ended"]) == ("thimble-2", None)
    assert (oldest["batch"], oldest["ended"]) == ("thimble-1", "Complete")


def test_nothing_brewed_yet_is_no_fault(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["batches", "--state", str(tmp_path)]) == 0
    assert "Nothing has been brewed yet" in capsys.readouterr().out


def test_a_record_that_is_none_is_one_line_and_left_alone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / JOURNAL_NAME).write_bytes(b"not a database, but long enough to look like one" * 50)
    before = (tmp_path / JOURNAL_NAME).read_bytes()
    assert main(["batches", "--state", str(tmp_path)]) == 1
    assert len(capsys.readouterr().err.splitlines()) == 1
    assert (tmp_path / JOURNAL_NAME).read_bytes() == before


def test_a_folder_mistyped_or_a_file_is_no_empty_record(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "letter"
    file.write_text("a letter")
    assert main(["batches", "--state", str(tmp_path / "sate")]) == 2
    assert "there is no such folder" in capsys.readouterr().err
    for command in (["batches"], ["tell", "thimble", "status"]):
        assert main([*command, "--state", str(file)]) == 2
        assert "this is a file" in capsys.readouterr().err
