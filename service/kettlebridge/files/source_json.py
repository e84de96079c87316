"""JSON from anywhere, read without trusting it: no key twice, no NaN, no depth without end."""

from __future__ import annotations

import json
from typing import Any

from kettlebridge.files.document import refused
from kettlebridge.files.source_fields import MAX_DEPTH, MAX_FIELDS, Field

LONGEST_WHOLE = 15
MARKS = (b",", b"[", b"{")
MOST_MARKS = 5 * MAX_FIELDS
"""Each value costs one of them, and notes have commas too: with more, it is refused before anything is made of it."""

TOO_MUCH = f"more than {MAX_FIELDS} values, or nested more than {MAX_DEPTH} deep"


class _BadJsonError(ValueError):
    pass


class _Pairs(list[tuple[str, Any]]):
    """An object as it was written."""


def json_fields(path: str, content: bytes) -> Field:
    """The whole document as a field. Raises FileError for everything that is not plain JSON."""
    if sum(content.count(mark) for mark in MARKS) > MOST_MARKS:
        raise refused(path, None, f"is no recipe: {TOO_MUCH}")
    try:
        text = content.decode(json.detect_encoding(content))
        found = json.loads(text, object_pairs_hook=_pairs, parse_constant=_constant, parse_int=_whole)
        return _Tree().field("", "", found, 0)
    except json.JSONDecodeError as error:
        raise refused(path, error.lineno, f"is not JSON: {error.msg}, column {error.colno}") from error
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise refused(path, line, f"is not text: byte {content[error.start]:#04x} here") from error
    except _BadJsonError as error:
        raise refused(path, None, str(error)) from error
    except RecursionError as error:
        raise refused(path, None, "arrays or objects are nested too deeply") from error


def _pairs(pairs: list[tuple[str, Any]]) -> _Pairs:
    names = [name for name, _ in pairs]
    twice = next((name for nth, name in enumerate(names) if name in names[:nth]), None) if len(names) < 200 else None
    if twice is not None or len(set(names)) < len(names):
        raise _BadJsonError(f'has the key "{twice or "..."}" twice in one object')
    return _Pairs(pairs)


def _constant(word: str) -> float:
    raise _BadJsonError(f"holds {word}, which is no number")


def _whole(digits: str) -> int | float:
    return int(digits) if len(digits) <= LONGEST_WHOLE else float(digits)


class _Tree:
    """Makes fields of parsed JSON and counts them."""

    def __init__(self) -> None:
        self._count = 0

    def field(self, name: str, place: str, value: Any, depth: int) -> Field:
        """One value with all that is in it."""
        self._count += 1
        if self._count > MAX_FIELDS or depth > MAX_DEPTH:
            raise _BadJsonError(f"is no recipe: {TOO_MUCH}")
        if isinstance(value, _Pairs):
            inner = [self.field(key, f"{place}.{key}" if place else key, each, depth + 1) for key, each in value]
        elif isinstance(value, list):
            inner = [self.field(name, f"{place}[{nth}]", each, depth + 1) for nth, each in enumerate(value, start=1)]
        else:
            return Field(name, place, None, value)
        return Field(name, place, None, None, tuple(inner))
