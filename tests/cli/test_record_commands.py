"""`report`, `export` and `replay` of a batch that was really ticked."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from kettlebridge.app import JOURNAL_NAME
from kettlebridge.cli.main import main
from kettlebridge.files.examples import example_kettles
from kettlebridge.files.kettle_file import load_kettle
from kettlebridge.journal.store import open_journal
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.ids import BatchId, KettleId
from kettlebridge.model.plan import AskKind, AskStep, HeatStep, Plan, Profile, Water
from kettlebridge.ports import BatchHeader, TickEntry
from kettlebridge.runtime.clock import OpenGate
from kettlebridge.simulated.virtual_day import VirtualDay

BATCH = BatchId("thimble-1")
TICKS = 400


def plan() -> Plan:
    (thimble,) = (path for path in example_kettles() if path.stem == "thimble")
    steps = (AskStep(name="Fill <all>", what=AskKind.FILL), HeatStep(name="Warm", to_c=60.0))
    profile = Profile(name="Short & sweet", water=Water(fill_l=5.0), steps=steps)
    return Plan(kettle=load_kettle(thimble).kettle, profile=profile)


async def recorded(folder: Path, *, spoilt: bool = False) -> None:
    """The first minutes of a simulated day, on disk; `spoilt`: with one event that never was."""
    async with open_journal(folder / JOURNAL_NAME, gate=OpenGate(), program="0") as journal:
        await journal.begin(
            BatchHeader(
                batch=BATCH,
                kettle=KettleId("thimble"),
                plan=plan(),
                started_utc_s=1_800_000_000.0,
                program="0",
                python="3",
            )
        )
        for n, second in zip(range(TICKS), VirtualDay(plan(), seed=1).seconds(), strict=False):
            more = (Event(code=EventCode.PROBE, values=(("probe", "none"),)),) if spoilt and n == 50 else ()
            journal.record(
                TickEntry(batch=BATCH, n=n, inputs=second.inputs, events=second.events + more, urgent=n == TICKS - 1)
            )
        assert await journal.settled(BATCH, TICKS - 1)


async def test_the_report_is_one_file_that_asks_for_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    await recorded(tmp_path)
    path = tmp_path / "day.html"
    assert main(["report", BATCH, "--state", str(tmp_path), "--html", str(path)]) == 0
    assert capsys.readouterr().out == f"Written: {path}\n"
    page = path.read_text()
    for part in ("<svg", "Short &amp; sweet", "Fill &lt;all&gt;", "5.0 L in the kettle.", "<caption>Steps</caption>"):
        assert part in page
    for outside in ("src=", "href=", "@import", "url("):
        assert outside not in page


async def test_figures_are_a_line_every_ten_seconds_and_unknown_is_empty(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    await recorded(tmp_path)
    assert main(["export", BATCH, "--csv", "--state", str(tmp_path)]) == 0
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert len(rows) == TICKS / 10
    assert rows[0]["temperature_c"] == ""
    assert float(rows[1]["at_s"]) - float(rows[0]["at_s"]) == 10.0
    assert 5.0 < float(rows[-1]["temperature_c"]) < 60.0


async def test_the_document_has_every_event(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    await recorded(tmp_path)
    assert main(["export", BATCH, "--json", "--state", str(tmp_path)]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["profile"] == "Short & sweet"
    assert document["steps"][0]["name"] == "Fill <all>"
    assert "call_raised" in {event["code"] for event in document["events"]}
    assert len(document["series"]["at_s"]) == TICKS / 10


async def test_a_replay_makes_the_same_events_or_shows_the_first_that_differs(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    await recorded(tmp_path)
    assert main(["replay", BATCH, "--state", str(tmp_path)]) == 0
    told = capsys.readouterr().out
    assert told.startswith(f"{TICKS} ticks, SHA-256")
    assert "The same events as recorded." in told
    (tmp_path / "other").mkdir()
    await recorded(tmp_path / "other", spoilt=True)
    assert main(["replay", BATCH, "--state", str(tmp_path / "other")]) == 1
    assert 'Recorded: tick 50: probe {"probe": "none"}' in capsys.readouterr().out


@pytest.mark.parametrize("command", [["report"], ["export", "--csv"], ["replay"]])
async def test_a_batch_that_is_not_there_is_said_to_be_missing(
    command: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    await recorded(tmp_path)
    assert main([*command, "thimble-9", "--state", str(tmp_path)]) == 1
    assert "there is no batch thimble-9" in capsys.readouterr().err
