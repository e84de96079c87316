"""Every key of a file as a row, drawn from the declarations of its tables."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from enum import Enum
from types import UnionType
from typing import Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from kettlebridge.files.fields import values

NAME = "NAME"
"""Stands in a row's path for the name that a person chooses, as in `[probe.NAME]`."""

TAGS = {"step": "do", "bridge": "kind", "also": "kind"}
"""Tables of several kinds, and the key that tells them apart; a row's path names the kind: `("step", "heat", "to_c")`.
"""

RowPath = tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyRow:
    """One key. `allowed` is empty for a table; `default` is None where the key is required.

    `because` says why the range ends where it does, where that is not plain; `array` that it stands in `[[...]]`.
    """

    path: RowPath
    unit: str
    allowed: str
    default: str | None
    meaning: str
    because: str = ""
    array: bool = False


def key_rows(model: type[BaseModel]) -> dict[RowPath, KeyRow]:
    """Rows of `model` in the order of the declarations. Kinds of a tagged union stand in the path as their tag."""
    return {row.path: row for row in _rows(model, ())}


def _rows(model: type[BaseModel], around: RowPath) -> Iterator[KeyRow]:
    for name, field in model.model_fields.items():
        path = (*around, field.alias or name)
        yield _row(path, field)
        inner_tables = list(_tables(field.annotation))
        tagged = len(inner_tables) > 1 and path[-1] in TAGS
        for inner, more in inner_tables:
            yield from _rows(inner, (*path, *((tag(inner),) if tagged else ()), *more))


def _row(path: RowPath, field: FieldInfo) -> KeyRow:
    words: Mapping[str, Any] = field.json_schema_extra if isinstance(field.json_schema_extra, dict) else {}
    unit = str(words.get("unit", ""))
    return KeyRow(
        path=path,
        unit=unit,
        allowed=str(words.get("allowed", "")) or _range(field, unit) or _members(field.annotation),
        default=None if field.is_required() else str(words.get("default_words", "")) or plain(field.default),
        meaning=field.description or "",
        because=str(words.get("because", "")),
        array=any(get_origin(kind) is list and any(_tables(kind)) for kind in _alternatives(field.annotation)),
    )


def _range(field: FieldInfo, unit: str) -> str:
    bounds = {side: getattr(part, side) for part in field.metadata for side in ("ge", "le") if hasattr(part, side)}
    if len(bounds) < 2:
        return ""
    return f"{plain(bounds['ge'])} to {plain(bounds['le'])} {unit}".rstrip()


def _members(annotation: Any) -> str:
    for kind in _alternatives(annotation):
        if isinstance(kind, type) and issubclass(kind, Enum):
            return values(kind)
        if get_origin(kind) is Literal:
            return ", ".join(str(value) for value in get_args(kind))
        if kind is bool:
            return "true, false"
    return ""


def _tables(annotation: Any) -> Iterator[tuple[type[BaseModel], RowPath]]:
    """The tables inside a key, each with what stands between the key and the table's own keys."""
    for kind in _alternatives(annotation):
        if isinstance(kind, type) and issubclass(kind, BaseModel):
            yield kind, ()
        elif get_origin(kind) is dict:
            yield from ((inner, (NAME, *more)) for inner, more in _tables(get_args(kind)[1]))
        elif get_origin(kind) is list:
            yield from _tables(get_args(kind)[0])


def _alternatives(annotation: Any) -> Iterator[Any]:
    if get_origin(annotation) in {Union, UnionType}:
        for part in get_args(annotation):
            yield from _alternatives(part)
    elif hasattr(annotation, "__metadata__"):
        yield from _alternatives(get_args(annotation)[0])
    else:
        yield annotation


def tag(model: type[BaseModel]) -> str:
    """The value that tells a table of several kinds from its sisters."""
    told = next(model.model_fields[key] for key in TAGS.values() if key in model.model_fields)
    return str(get_args(told.annotation)[0])


def plain(value: object) -> str:
    """A value as it would be written in TOML, cut short."""
    if value is None or (isinstance(value, str | list | tuple | dict) and not value):
        return "none"
    say = next((say for kind, say in _SAY if isinstance(value, kind)), str)
    words = say(value)
    return words if len(words) <= _LONGEST else f"{words[: _LONGEST - 3]}..."


_LONGEST = 60
_SAY: tuple[tuple[type, Callable[[Any], str]], ...] = (
    (bool, lambda value: "true" if value else "false"),
    (Enum, lambda value: str(value.value)),
    (float, lambda value: f"{value:.10g}"),
    (dict, lambda _: "a table"),
    (list, lambda _: "an array"),
    (str, lambda value: f'"{value}"'),
)
