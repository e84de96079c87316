"""A plan as JSON text and back, by the fields and type hints of its dataclasses.

Objects carry field names, enums their value; a step says which it is by its `kind`. Every field is written, so a
default that changes later does not change an old plan; a field that did not exist then takes its default when read.
"""

from __future__ import annotations

import dataclasses
import json
from enum import Enum
from functools import cache
from types import NoneType, UnionType
from typing import Any, NewType, Union, get_args, get_origin, get_type_hints

from kettlebridge.model.errors import JournalError
from kettlebridge.model.plan import Plan

_ACCEPTED: dict[object, tuple[type, ...]] = {bool: (bool,), int: (int,), float: (float, int), str: (str,)}


def encode_plan(plan: Plan) -> str:
    """Raises JournalError for a plan that would not read back as the same plan: better before the batch than after."""
    try:
        text = json.dumps(_plain(plan), separators=(",", ":"), allow_nan=False)
    except (TypeError, ValueError) as error:
        raise JournalError(f"the plan cannot be written: {error}") from error
    if decode_plan(text) != plan:
        raise JournalError("the plan cannot be written: it would read back as another plan")
    return text


def decode_plan(text: str) -> Plan:
    """Raises JournalError, with the place inside the plan."""
    try:
        data = json.loads(text)
    except ValueError as error:
        raise JournalError(f"the plan is not JSON: {error}") from error
    plan = _typed(data, Plan, "plan")
    assert isinstance(plan, Plan)  # noqa: S101  # what _typed was asked for; told to the type checker
    return plan


def _plain(value: object) -> Any:
    """A tree of dataclasses as what JSON has words for."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {field.name: _plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    return value


def _typed(data: Any, hint: Any, place: str) -> Any:
    """`data` as what `hint` asks for; `place` names it in errors."""
    if isinstance(hint, NewType):
        return _typed(data, hint.__supertype__, place)
    if get_origin(hint) in {Union, UnionType}:
        return _one_of(data, get_args(hint), place)
    if get_origin(hint) is tuple:
        return _tuple(data, get_args(hint)[0], place)
    if dataclasses.is_dataclass(hint) and isinstance(hint, type):
        return _dataclass(data, hint, place)
    if isinstance(hint, type) and issubclass(hint, Enum):
        try:
            return hint(data)
        except (TypeError, ValueError) as error:
            raise JournalError(f"{place}: {error}") from error
    if type(data) in _ACCEPTED.get(hint, ()):
        return data
    raise JournalError(f"{place}: {data!r} is no {getattr(hint, '__name__', hint)}")


def _one_of(data: Any, hints: tuple[Any, ...], place: str) -> Any:
    """Either None or the one other choice, or the dataclass whose own `kind` the data has."""
    if data is None and NoneType in hints:
        return None
    choices = [hint for hint in hints if hint is not NoneType]
    if len(choices) > 1:
        kind = data.get("kind") if isinstance(data, dict) else None
        choices = [choice for choice in choices if _own_kind(choice) == kind]
    if len(choices) != 1:
        raise JournalError(f"{place}: none of its kinds fits {data!r}")
    return _typed(data, choices[0], place)


def _tuple(data: Any, hint: Any, place: str) -> tuple[Any, ...]:
    if not isinstance(data, list):
        raise JournalError(f"{place}: {data!r} is no list")
    return tuple(_typed(item, hint, f"{place}[{index}]") for index, item in enumerate(data))


def _dataclass(data: Any, cls: Any, place: str) -> Any:
    hints = _hints(cls)
    if not isinstance(data, dict):
        raise JournalError(f"{place}: {data!r} is no {cls.__name__}")
    if unknown := sorted(data.keys() - hints.keys()):
        raise JournalError(f"{place}: unknown {', '.join(unknown)}")
    values = {name: _typed(data[name], hint, f"{place}.{name}") for name, hint in hints.items() if name in data}
    try:
        return cls(**values)
    except TypeError as error:  # a field without a default is missing
        raise JournalError(f"{place}: {error}") from error


@cache
def _hints(cls: Any) -> dict[str, Any]:
    """Field names in order, each with its evaluated type."""
    hints = get_type_hints(cls)
    return {field.name: hints[field.name] for field in dataclasses.fields(cls)}


@cache
def _own_kind(cls: Any) -> object:
    """The value of the `kind` that instances of `cls` have by default."""
    for field in dataclasses.fields(cls):
        if field.name == "kind" and isinstance(field.default, Enum):
            return field.default.value
    return None
