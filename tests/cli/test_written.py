"""What commands write: never over another file unasked, never over what they read, whole or not at all."""

from __future__ import annotations

import stat
from pathlib import Path

import pytest

from kettlebridge.app import JOURNAL_NAME
from kettlebridge.cli.main import main
from kettlebridge.cli.written import Written
from kettlebridge.files.examples import config_folder
from kettlebridge.model.errors import UsageError

PALE = str(config_folder() / "recipes" / "corvane_pale.toml")
SADDLE = str(config_folder() / "kettles" / "saddle.toml")
BITTER = str(config_folder() / "profiles" / "quillet_bitter.toml")


@pytest.fixture
def mine(tmp_path: Path) -> Path:
    path = tmp_path / "mine.toml"
    path.write_text("mine")
    return path


def test_a_new_file_is_written_and_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "day.toml"
    Written([path]).write(path, "a day: 66 °C\n")
    assert path.read_text(encoding="utf-8") == "a day: 66 °C\n"
    assert capsys.readouterr().out == f"Written: {path}\n"
    assert [each.name for each in tmp_path.iterdir()] == ["day.toml"]


def test_beside_a_document_it_is_told_aside(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "day.toml"
    Written([path], aside=True).write(path, "")
    told = capsys.readouterr()
    assert (told.out, told.err) == ("", f"Written: {path}\n")


def test_a_file_that_is_there_stays_unless_it_is_said(mine: Path) -> None:
    with pytest.raises(UsageError, match="is there already: move it, name another, or say --replace"):
        Written([mine])
    assert mine.read_text() == "mine"
    Written([mine], replace=True).write(mine, "new")
    assert mine.read_text() == "new"


def test_a_file_that_came_meanwhile_stays(tmp_path: Path) -> None:
    path = tmp_path / "day.toml"
    written = Written([path])
    path.write_text("somebody else's")
    with pytest.raises(UsageError, match="is there already"):
        written.write(path, "new")
    assert path.read_text() == "somebody else's"
    assert len(list(tmp_path.iterdir())) == 1


def test_what_is_read_is_never_written_over_under_any_name(mine: Path) -> None:
    link = mine.with_name("link.toml")
    link.symlink_to(mine)
    other_way = mine.parent / ".." / mine.parent.name / mine.name
    for path in (mine, link, other_way):
        with pytest.raises(UsageError, match="is what is read"):
            Written([path], reads=[None, mine], replace=True)
    assert mine.read_text() == "mine"


def test_one_file_is_not_written_twice(tmp_path: Path) -> None:
    one, other = tmp_path / "day.html", tmp_path / "." / "x" / ".." / "day.html"
    (tmp_path / "x").mkdir()
    with pytest.raises(UsageError, match="written twice"):
        Written([one, None, other], replace=True)


@pytest.mark.parametrize(("name", "why"), [("absent/day.toml", "there is no folder"), ("", "it is no file")])
def test_an_impossible_place_is_told_before_any_work(tmp_path: Path, name: str, why: str) -> None:
    with pytest.raises(UsageError, match=why):
        Written([tmp_path / name], replace=True)


def test_a_write_that_fails_leaves_the_old_file_whole(mine: Path) -> None:
    with pytest.raises(UnicodeEncodeError):
        Written([mine], replace=True).write(mine, "half\ud800")
    assert mine.read_text() == "mine"
    assert [each.name for each in mine.parent.iterdir()] == [mine.name]


def test_what_replaces_keeps_the_rights_and_a_link_stays_one(mine: Path) -> None:
    mine.chmod(0o640)
    link = mine.with_name("link.toml")
    link.symlink_to(mine)
    Written([link], replace=True).write(link, "new")
    assert link.is_symlink()
    assert mine.read_text() == "new"
    assert stat.S_IMODE(mine.stat().st_mode) == 0o640


def test_no_command_writes_over_its_kettle_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    kettle, day = tmp_path / "kettle.toml", tmp_path / "day.toml"
    kettle.write_text(Path(SADDLE).read_text(encoding="utf-8"), encoding="utf-8")
    before = kettle.read_bytes()
    given = ["plan", PALE, "--kettle", str(kettle)]
    assert main([*given, "--profile", str(kettle), "--replace"]) == 2
    assert main([*given, "--profile", str(day), "--html", str(day)]) == 2
    assert (kettle.read_bytes(), day.exists()) == (before, False)
    assert main([*given, "--profile", str(day)]) == 0
    assert f"Written: {day}\n" in capsys.readouterr().out
    assert main([*given, "--profile", str(day)]) == 2
    assert main([*given, "--profile", str(day), "--replace"]) == 0


@pytest.mark.parametrize(
    "words",
    [
        ["report", "B", "--html"],
        ["repeat", "B", "--profile"],
        ["compare", "A", "B", "--html"],
        ["find", "--port", "/dev/nowhere", "--out"],
        ["bench", "--family", "1", "--picture"],
        ["plan", PALE, "--kettle", SADDLE, "--html"],
    ],
    ids=lambda words: words[0],
)
def test_every_command_that_writes_refuses_a_file_that_is_there(
    words: list[str], mine: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(mine.parent))
    assert main([*words, str(mine)]) == 2
    assert "is there already" in capsys.readouterr().err
    assert mine.read_text() == "mine"


@pytest.mark.parametrize("words", [["report", "B", "--html"], ["repeat", "B", "--profile"]], ids=lambda words: words[0])
def test_the_record_is_never_written_over(words: list[str], tmp_path: Path) -> None:
    record = tmp_path / JOURNAL_NAME
    record.write_bytes(b"the record")
    assert main([*words, str(record), "--state", str(tmp_path), "--replace"]) == 2
    assert record.read_bytes() == b"the record"


def test_a_picture_without_a_family_is_not_dropped_without_a_word(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    given = ["bench", BITTER, "--kettle", SADDLE]
    assert main([*given, "--picture", str(tmp_path / "family.svg")]) == 2
    assert "--family" in capsys.readouterr().err
