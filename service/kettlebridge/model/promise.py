"""A promise: a fault, what ends it safe, how soon, and the test that shows it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class PromiseKind(Enum):
    """Where a promise is kept."""

    INTERLOCK = "interlock"
    VALIDATION = "validation"
    SEQUENCE = "sequence"
    COMMAND = "command"
    BOARD = "board"
    PROCESS = "process"
    STORAGE = "storage"
    PAGE = "page"


@dataclass(frozen=True, slots=True, kw_only=True)
class Promise:
    """`within_s`: from the onset of the fault to the board's output pin being off, None where no time applies.

    `kept_by` names the function or table that keeps it, `test` the test named after it; both are checked to exist.
    """

    id: int
    fault: str
    outcome: str
    within_s: float | None
    kind: PromiseKind
    kept_by: str
    test: str
