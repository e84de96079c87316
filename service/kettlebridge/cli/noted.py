"""Reading several files and telling all their mistakes at once."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from kettlebridge.model.errors import FileError, Mistake

Named = TypeVar("Named")
Read = TypeVar("Read")


def read_or_noted(load: Callable[[Named], Read], named: Named, mistakes: list[Mistake]) -> Read | None:
    """What `load` makes of it; None, and its mistakes among the others, when it cannot be used."""
    try:
        return load(named)
    except FileError as error:
        mistakes += error.mistakes
        return None
