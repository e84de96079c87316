"""What pydantic found, in plain words and with its place."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from difflib import get_close_matches
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from kettlebridge.files.document import Document
from kettlebridge.files.fields import ID_WORDS
from kettlebridge.files.key_lines import KeyPath
from kettlebridge.files.keys import NAME, TAGS, KeyRow, RowPath, key_rows, plain
from kettlebridge.model.errors import Mistake

Model = TypeVar("Model", bound=BaseModel)
Rows = Mapping[RowPath, KeyRow]

NAMED_FAMILIES = frozenset({"probe", "input", "also"})
"""Tables whose next part is a name that the writer chooses."""

_LONGEST_KEY = 40

MOST_TOLD = 200
"""Mistakes of single keys that are listed: a hand-written file never has as many, and each costs time to word."""

_BAD_NAME = "[key]"
"""What pydantic puts behind a name that breaks its pattern."""


def validate(model: type[Model], document: Document) -> tuple[Model | None, list[Mistake]]:
    """The document as `model`, or None and every mistake in the shape of it."""
    try:
        return model.model_validate(document.data), []
    except ValidationError as error:
        rows = key_rows(model)
        told = [_mistake(document, rows, found) for found in error.errors(include_url=False)[:MOST_TOLD]]
        if error.error_count() > MOST_TOLD:
            told.append(document.mistake((), f"{error.error_count() - MOST_TOLD} more mistakes are not listed"))
        return None, told


def _mistake(document: Document, rows: Rows, found: Mapping[str, Any]) -> Mistake:
    location: KeyPath = found["loc"]
    if location[-1:] == (_BAD_NAME,):
        return document.mistake(location[:-1], f"is no name: {ID_WORDS}")
    key = _as_written(location)
    row_path = _row_path(location)
    if found["type"] in {"union_tag_invalid", "union_tag_not_found"}:
        return document.mistake((*key, TAGS[str(location[0])]), _tag_words(found, str(location[0])))
    say = WORDS.get(found["type"], _as_pydantic_says)
    return document.mistake(key, say(found, rows, row_path))


def in_order(mistakes: Iterable[Mistake]) -> tuple[Mistake, ...]:
    """As they stand in the file; those without a line come first."""
    return tuple(sorted(mistakes, key=lambda mistake: mistake.line or 0))


def _as_written(location: KeyPath) -> KeyPath:
    """Without the tag that pydantic puts behind a table of several kinds, or behind its index in an array."""
    if location[:1] and location[0] in TAGS:
        named = len(location) > 1 and (isinstance(location[1], int) or location[0] in NAMED_FAMILIES)
        depth = 1 + named
        return location[:depth] + location[depth + 1 :]
    return location


def _row_path(location: KeyPath) -> RowPath:
    """The path as the rows have it: no indexes, NAME for a chosen name."""
    if location[:1] and location[0] in NAMED_FAMILIES and len(location) > 1:
        location = (location[0], NAME, *location[2:])
        if location[0] in TAGS:
            location = (location[0], *location[2:3], NAME, *location[3:])
    return tuple(part for part in location if isinstance(part, str))


def _allowed(rows: Rows, path: RowPath) -> str:
    row = rows.get(path)
    if row is None or not row.allowed:
        return ""
    return f": {row.allowed}" + (f" ({row.because})" if row.because else "")


def _size(word: str) -> Callable[[Mapping[str, Any], Rows, RowPath], str]:
    def say(found: Mapping[str, Any], rows: Rows, path: RowPath) -> str:
        return f"{plain(found['input'])} is too {word}{_allowed(rows, path)}"

    return say


def _needs(what: str) -> Callable[[Mapping[str, Any], Rows, RowPath], str]:
    def say(found: Mapping[str, Any], rows: Rows, path: RowPath) -> str:
        return f"{plain(found['input'])} is not {what}{_allowed(rows, path)}"

    return say


def _missing(_found: Mapping[str, Any], rows: Rows, path: RowPath) -> str:
    row = rows.get(path)
    return f"missing{_allowed(rows, path)}" + (f"; {row.meaning}" if row else "")


def _unknown(_found: Mapping[str, Any], rows: Rows, path: RowPath) -> str:
    known = [row[-1] for row in rows if len(row) == len(path) and row[:-1] == path[:-1]]
    near = get_close_matches(path[-1][:_LONGEST_KEY], known, n=1)
    return f"unknown key; did you mean {near[0]}?" if near else f"unknown key; known here: {', '.join(known)}"


def _own_words(found: Mapping[str, Any], rows: Rows, path: RowPath) -> str:
    return f"{found['ctx']['error']}{_allowed(rows, path)}"


def _as_pydantic_says(found: Mapping[str, Any], rows: Rows, path: RowPath) -> str:
    return f"{found['msg'][:1].lower()}{found['msg'][1:]}{_allowed(rows, path)}"


UNTAGGED_WORDS = {
    "step": "what the step does",
    "bridge": "what kind of wire leads to the board",
    "also": "what kind of wire leads to the board",
}


def _tag_words(found: Mapping[str, Any], table: str) -> str:
    if found["type"] == "union_tag_not_found":
        return f"missing: it says {UNTAGGED_WORDS[table]}"
    return f'"{found["ctx"]["tag"]}" is not allowed: {found["ctx"]["expected_tags"].replace(chr(39), "")}'


WORDS: dict[str, Callable[[Mapping[str, Any], Rows, RowPath], str]] = {
    "missing": _missing,
    "extra_forbidden": _unknown,
    "greater_than_equal": _size("small"),
    "less_than_equal": _size("big"),
    "string_too_short": _size("short"),
    "string_too_long": _size("long"),
    "too_short": _size("short"),
    "too_long": _size("long"),
    "string_pattern_mismatch": _needs("allowed"),
    "literal_error": _needs("allowed"),
    "enum": _needs("allowed"),
    "finite_number": _needs("a finite number"),
    "float_type": _needs("a number"),
    "int_type": _needs("a whole number"),
    "bool_type": _needs("true or false"),
    "string_type": _needs("text in quotes"),
    "list_type": _needs("an array"),
    "dict_type": _needs("a table"),
    "model_type": _needs("a table"),
    "model_attributes_type": _needs("a table"),
    "value_error": _own_words,
}
