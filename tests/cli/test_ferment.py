"""`ferment` keeps the gravities of a batch, also while a service writes the record."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from kettlebridge.app import JOURNAL_NAME
from kettlebridge.cli.main import main
from kettlebridge.files.examples import config_folder
from kettlebridge.journal.fermentation import SqliteFermentation
from kettlebridge.journal.store import open_journal
from kettlebridge.model.fermentation import ProbeReading
from kettlebridge.model.ids import BatchId
from kettlebridge.model.plan import Aim
from kettlebridge.runtime.clock import OpenGate, RealClock
from tests.cli.test_batches import header, recorded

OLD = Path(__file__).parents[1] / "journal" / "journals" / "version_1.journal"
OLD_BATCH = "copper-20251009t060000"


def add(folder: Path, gravity: str, ago_h: str, batch: str = "thimble-1") -> int:
    reading = ["--gravity", gravity, "--at-c", "25", "--ago", ago_h]
    return main(["ferment", batch, "add", *reading, "--state", str(folder)])


async def test_two_equal_gravities_days_apart_are_ready(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    await recorded(tmp_path)
    assert add(tmp_path, "1.050", "200") == 0
    assert add(tmp_path, "1.011", "49") == 0
    assert "Still fermenting" in capsys.readouterr().out
    assert add(tmp_path, "1.011", "0") == 0
    out = capsys.readouterr().out
    assert "1.012 at 20 °C  (read 1.011 at 25 °C)" in out
    assert "Ready to package" in out
    assert "% alcohol so far" in out


AIM = Aim(original_sg=1.048, fermenter_l=5.0, efficiency_percent=72.0, attenuation_percent=75.0, bitterness_ibu=23.0)


async def test_a_first_reading_of_a_beer_that_ferments_already_is_not_taken_for_the_wort(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nobody measured the wort, and by the first reading, 1.020, the yeast would have stopped half way."""
    begun = header("thimble-1")
    planned = replace(begun, plan=replace(begun.plan, profile=replace(begun.plan.profile, aim=AIM)))
    async with open_journal(tmp_path / JOURNAL_NAME, gate=OpenGate(), program="0") as journal:
        await journal.begin(planned)
    for gravity, ago_h in (("1.020", "100"), ("1.011", "49"), ("1.011", "0")):
        assert add(tmp_path, gravity, ago_h) == 0
    capsys.readouterr()
    recipe = str(config_folder() / "recipes" / "wick_mild.toml")
    assert main(["ferment", "thimble-1", "show", "--recipe", recipe, "--state", str(tmp_path)]) == 0
    out = capsys.readouterr().out
    assert "Ready to package" in out
    assert "From 1.048, as planned: none was measured" in out


async def test_a_reading_is_added_while_a_service_writes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    async with open_journal(tmp_path / JOURNAL_NAME, gate=OpenGate(), program="0") as journal:
        await journal.begin(header("thimble-1"))
        assert add(tmp_path, "1.030", "0") == 0
        assert journal.health().failing_why is None
        await journal.begin(header("thimble-2"))
        assert len(journal.records.fermentation(BatchId("thimble-1"))) == 1


def test_an_old_journal_takes_readings(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shutil.copy(OLD, tmp_path / JOURNAL_NAME)
    assert add(tmp_path, "1.030", "0", batch=OLD_BATCH) == 0
    assert main(["ferment", OLD_BATCH, "show", "--json", "--state", str(tmp_path)]) == 0
    values = json.loads(capsys.readouterr().out.split("\n", 2)[2])
    assert [reading["read_sg"] for reading in values["readings"]] == [1.03]
    assert values["standing"] == "unknown"


async def test_no_such_batch_is_one_line_and_a_failure(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    await recorded(tmp_path)
    assert add(tmp_path, "1.030", "0", batch="nobody-1") == 1
    assert "there is no batch nobody-1" in capsys.readouterr().err


async def test_a_probes_gravities_count_like_read_ones_and_packaging_ends_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    await recorded(tmp_path)
    journal, now_s = tmp_path / JOURNAL_NAME, RealClock().at_utc_s()
    for ago_h in (60, 40, 20, 1):
        told = ProbeReading(at_utc_s=now_s - 3600.0 * ago_h, at_c=19.0, gravity_sg=1.012)
        SqliteFermentation(journal, program="0").add_probe_reading(BatchId("thimble-1"), told)
    assert main(["ferment", "thimble-1", "show", "--state", str(tmp_path)]) == 0
    out = capsys.readouterr().out
    assert "Ready to package" in out
    assert "The probe kept 4 readings" in out
    assert main(["ferment", "thimble-1", "packaged", "--json", "--state", str(tmp_path)]) == 0
    values = json.loads(capsys.readouterr().out)
    assert values["packaged_utc_s"] == pytest.approx(now_s, abs=60.0)
    assert main(["ferment", "thimble-1", "show", "--state", str(tmp_path)]) == 0
    assert "Packaged " in capsys.readouterr().out
