"""A file that a person wrote, read and parsed but not yet understood."""

from __future__ import annotations

import os
import re
import stat
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from kettlebridge.files.key_lines import KeyLines, KeyPath
from kettlebridge.files.toml_slips import advice_on
from kettlebridge.model.errors import FileError, Mistake

MAX_BYTES = 64 * 1024
"""Ten times the longest file anybody writes by hand; more is something else under this name."""

LONGEST_SHOWN = 400

_PLACE = re.compile(r" \(at (?:line (\d+), column (\d+)|end of document)\)$")


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """`data` is what tomllib made of the text; `path` is the path as it was given."""

    path: str
    data: dict[str, Any]
    lines: KeyLines

    def mistake(self, key: KeyPath, what: str) -> Mistake:
        """A mistake at `key`, with the line of the key or of the table around it."""
        return Mistake(path=self.path, line=self.lines.of(key), key=shown(written(key)), what=shown(what))


def written(key: KeyPath) -> str:
    """The key as a person counts: `step[3].addition[1].grams`, indexes from 1."""
    text = ""
    for part in key:
        if isinstance(part, int):
            text += f"[{part + 1}]"
        else:
            text += f".{part}" if text else part
    return text


def read_document(path: str | os.PathLike[str]) -> Document:
    """Reads a TOML file. Raises FileError for everything that keeps it from being read."""
    place = os.fspath(path)
    text = _text(place)
    try:
        return Document(path=place, data=tomllib.loads(text), lines=KeyLines(text))
    except tomllib.TOMLDecodeError as error:
        raise refused(place, *_syntax(str(error), text)) from error
    except RecursionError as error:
        raise refused(place, None, "arrays or tables are nested too deeply") from error
    except ValueError as error:  # an integer too long to convert, a date that does not exist
        raise refused(place, None, f"not TOML: {error}") from error


def content(place: str, most_bytes: int) -> bytes:
    """The bytes of a plain file. Raises FileError for what is none, cannot be read, or is longer than `most_bytes`."""
    try:
        status = Path(place).stat()
        if stat.S_ISDIR(status.st_mode):
            raise refused(place, None, "is a folder, not a file")
        if not stat.S_ISREG(status.st_mode):
            raise refused(place, None, "is not a plain file")
        with Path(place).open("rb") as file:
            found = file.read(most_bytes + 1)
    except OSError as error:
        raise refused(place, None, f"cannot be read: {error.strerror}") from error
    except ValueError as error:  # a zero byte in the path
        raise refused(place, None, f"cannot be read: {error}") from error
    if len(found) > most_bytes:
        raise refused(place, None, f"is too long: at most {most_bytes // 1024} KiB")
    return found


def _text(place: str) -> str:
    found = content(place, MAX_BYTES)
    try:
        return found.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = found.count(b"\n", 0, error.start) + 1
        raise refused(place, line, f"is not UTF-8 text: byte {found[error.start]:#04x} here") from error


def _syntax(message: str, text: str) -> tuple[int | None, str]:
    """The line and the words of a syntax error."""
    found = _PLACE.search(message)
    if not found:
        return None, f"not TOML: {message}"
    words = message[: found.start()]
    at_end = not found[1]
    number = text.rstrip("\n").count("\n") + 1 if at_end else int(found[1])
    where = "at the end of the file" if at_end else f"column {found[2]}"
    meant = advice_on(text.split("\n")[number - 1], words)
    return number, f"not TOML: {words}, {where}" if meant is None else f"{meant} (not TOML: {words}, {where})"


def shown(words: str) -> str:
    """Safe for a terminal, whatever stands in the file: control characters escaped, cut short."""
    safe = "".join(letter if letter.isprintable() else f"\\u{ord(letter):04x}" for letter in words[:LONGEST_SHOWN])
    return safe if len(words) <= LONGEST_SHOWN else f"{safe}..."


def refused(place: str, line: int | None, what: str) -> FileError:
    """A file that cannot be used at all."""
    return FileError((Mistake(path=place, line=line, key="", what=what),))
