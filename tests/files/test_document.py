"""Whatever lies under the name of a file, the answer is a value or a list of mistakes, never a traceback."""

from __future__ import annotations

import os
from collections.abc import Callable
from errno import EACCES
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kettlebridge.files.document import MAX_BYTES, read_document
from kettlebridge.files.kettle_file import load_kettle
from kettlebridge.files.profile_file import load_profile
from kettlebridge.model.errors import FileError, Mistake
from tests.files.texts import KETTLE, PROFILE

LOADERS: tuple[Callable[[Path], Any], ...] = (load_kettle, load_profile)


def told(path: Path) -> str:
    with pytest.raises(FileError) as caught:
        read_document(path)
    (mistake,) = caught.value.mistakes
    assert mistake.path == str(path)
    return str(mistake).removeprefix(f"{path}:").strip()


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        (b"schema = 1\nname = \n", "2: what it is to be is missing after the = (not TOML: Invalid value, column 8)"),
        (b"a = 1\na = 2\n", "2: this key stands above already (not TOML: Cannot overwrite a value, column 6)"),
        (
            b"a = 1\n[kettle\n",
            "2: a table's name ends with ] (not TOML: Expected ']' at the end of a table declaration, column 8)",
        ),
        (b'schema = 1\nname = """\nx\n', "3: not TOML: Unterminated string, at the end of the file"),
        (b"a = 1\nb = '\xff'\n", "2: is not UTF-8 text: byte 0xff here"),
        (b"\x7fELF\x02\x00\x01", "1: not TOML: Invalid statement, column 1"),
        (b"a = " + b"[" * 20_000, "arrays or tables are nested too deeply"),
        (b"x" * (MAX_BYTES + 1), "is too long: at most 64 KiB"),
    ],
)
def test_what_is_no_toml_is_told_with_its_line(tmp_path: Path, content: bytes, expected: str) -> None:
    path = tmp_path / "it.toml"
    path.write_bytes(content)
    assert told(path) == expected


def test_fifty_megabytes_are_refused_without_being_read(tmp_path: Path) -> None:
    path = tmp_path / "big.toml"
    with path.open("wb") as file:
        file.truncate(50_000_000)
    assert told(path) == "is too long: at most 64 KiB"


def test_missing_file(tmp_path: Path) -> None:
    assert told(tmp_path / "none.toml") == "cannot be read: No such file or directory"


def test_folder(tmp_path: Path) -> None:
    assert told(tmp_path) == "is a folder, not a file"


def test_pipe_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    assert told(tmp_path / "pipe") == "is not a plain file"


def test_unreadable_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "it.toml"
    path.write_text(KETTLE)
    monkeypatch.setattr(Path, "open", _denied)  # root may read everything, whatever the mode of the file
    assert told(path) == "cannot be read: Permission denied"


def _denied(*_: object) -> None:
    raise PermissionError(EACCES, os.strerror(EACCES))


def test_name_that_no_file_can_have(tmp_path: Path) -> None:
    assert told(tmp_path / "a\0b").startswith("cannot be read: ")


def test_file_from_another_system_is_read_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "it.toml"
    path.write_bytes(b"\xef\xbb\xbf" + KETTLE.replace("\n", "\r\n").encode())
    assert load_kettle(path).kettle.name == "tin"


def test_integer_of_five_thousand_digits(tmp_path: Path) -> None:
    path = tmp_path / "it.toml"
    path.write_text(f"a = {'1' * 5_000}\n")
    assert "not TOML" in told(path)


def test_thousands_of_mistakes_are_listed_in_part(tmp_path: Path) -> None:
    path = tmp_path / "it.toml"
    path.write_text("".join(f"k{n} = 1\n" for n in range(5_000)))
    with pytest.raises(FileError) as caught:
        load_kettle(path)
    assert any("more mistakes are not listed" in mistake.what for mistake in caught.value.mistakes)
    assert len(caught.value.mistakes) < 300


def _never_anything_but_a_value_or_mistakes(path: Path, content: bytes) -> None:
    path.write_bytes(content)
    for load in LOADERS:
        mistakes = _mistakes(load, path)
        assert all(mistake.path == str(path) and mistake.what for mistake in mistakes)


def _mistakes(load: Callable[[Path], Any], path: Path) -> tuple[Mistake, ...]:
    try:
        assert load(path) is not None
    except FileError as error:
        return error.mistakes
    return ()


EACH_ON_ITS_OWN = settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=200)


@EACH_ON_ITS_OWN
@given(content=st.binary(max_size=300) | st.text(max_size=300).map(lambda text: text.encode("utf-8", "surrogatepass")))
def test_any_bytes_give_a_value_or_mistakes(tmp_path: Path, content: bytes) -> None:
    _never_anything_but_a_value_or_mistakes(tmp_path / "it.toml", content)


ODD_VALUES = st.sampled_from(
    [
        "true",
        "nan",
        "-inf",
        "1e999",
        "9" * 400,
        "-1",
        "0",
        '""',
        '"x"',
        "[]",
        "[1, 2]",
        "[[]]",
        "{}",
        "{ a = 1 }",
        "[{ }, 3]",
        "07:30:00",
        "1979-05-27",
        '"\\u0000"',
    ]
)


@st.composite
def nearly_right(draw: st.DrawFn) -> bytes:
    """A right file with some lines lost, doubled, moved, or with odd values."""
    lines = draw(st.sampled_from([KETTLE, PROFILE])).splitlines()
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(lines) - 1))
        act = draw(st.sampled_from(["lose", "double", "move", "odd", "odd header"]))
        line = lines.pop(at)
        if act == "double":
            lines[at:at] = [line, line]
        elif act == "move":
            lines.insert(draw(st.integers(0, len(lines))), line)
        elif act == "odd":
            lines.insert(at, f"{line.split(' = ')[0]} = {draw(ODD_VALUES)}" if " = " in line else line)
        elif act == "odd header":
            lines.insert(at, f"{line.strip('[]').split(' = ')[0]} = {draw(ODD_VALUES)}")
        lines = lines or ["schema = 1"]
    return "\n".join(lines).encode()


@EACH_ON_ITS_OWN
@given(content=nearly_right())
def test_nearly_right_files_give_a_value_or_mistakes(tmp_path: Path, content: bytes) -> None:
    _never_anything_but_a_value_or_mistakes(tmp_path / "it.toml", content)
