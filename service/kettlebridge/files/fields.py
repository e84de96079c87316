"""How a key of a file is declared: its unit, its range and its meaning stand in one place, beside the type.

Error messages, the tables of docs/files.md and the JSON Schemas are all made from these declarations.
"""

from __future__ import annotations

from enum import Enum
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field

ID_PATTERN = r"^[a-z0-9][a-z0-9_-]{0,31}$"
ID_WORDS = "1 to 32 of a-z, 0-9, _ and -, the first a letter or a digit"

REQUIRED: Any = ...


class Table(BaseModel):
    """A table of a file: no unknown keys, no text for numbers, no NaN.

    What checks it is built when a file of its kind is read: most starts meet a few of them. So a default that is a
    table is made with `model_construct()`, which checks nothing.
    """

    model_config = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False, frozen=True, defer_build=True)


def number(unit: str, low: float, high: float, meaning: str, **more: Any) -> Any:
    """A bounded number. `default` makes it optional; `default_words` says a default that depends on other keys."""
    return _field(meaning, ge=low, le=high, unit=unit, **more)


def text(allowed: str, meaning: str, **more: Any) -> Any:
    """A piece of text; `allowed` says in words what may stand there."""
    return _field(meaning, allowed=allowed, **more)


def choice(meaning: str, **more: Any) -> Any:
    """A member of an enum, written as its value."""
    return _field(meaning, strict=False, **more)


def table(meaning: str, **more: Any) -> Any:
    """A table of its own, or an array or a family of them."""
    return _field(meaning, **more)


def switch(meaning: str, *, default: bool) -> Any:
    """A switch: true or false."""
    return _field(meaning, default=default)


def _field(meaning: str, *, default: Any = REQUIRED, **more: Any) -> Any:
    words: dict[str, Any] = {
        key: more.pop(key) for key in ("unit", "allowed", "default_words", "because") if key in more
    }
    return Field(default, description=meaning, json_schema_extra=words or None, **more)


def _printable(value: str) -> str:
    """Whatever reaches a terminal or a page must not carry control characters there."""
    if not value.replace("\n", " ").isprintable():
        raise ValueError("holds a control character")
    return value


def _one_line(value: str) -> str:
    if "\n" in value:
        raise ValueError("must be one line")
    return _printable(value)


Line = Annotated[str, Field(min_length=1, max_length=80), AfterValidator(_one_line)]
LINE_WORDS = "one line of 1 to 80 characters"

LongLine = Annotated[str, Field(min_length=1, max_length=200), AfterValidator(_one_line)]
LONG_LINE_WORDS = "one line of 1 to 200 characters"

Paragraph = Annotated[str, Field(max_length=600), AfterValidator(_printable)]
PARAGRAPH_WORDS = "at most 600 characters"


def _whole(value: object) -> object:
    """To Python, true and 1.0 equal 1; in a file they are slips."""
    if isinstance(value, bool | float):
        raise ValueError("must be a whole number")
    return value


SchemaOne = Annotated[Literal[1], BeforeValidator(_whole)]

Id = Annotated[str, Field(pattern=ID_PATTERN)]


def values(kind: type[Enum]) -> str:
    """The members of an enum as they are written."""
    return ", ".join(str(member.value) for member in kind)
