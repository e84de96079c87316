"""One root, branches that say whose fault it is. In the core an expected fault is an event, never an exception."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class KettlebridgeError(Exception):
    """Root of everything raised on purpose."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mistake:
    """One mistake in a file a person wrote. `line` is 1-based, None where no line can be named."""

    path: str
    line: int | None
    key: str
    what: str

    def __str__(self) -> str:
        place = self.path if self.line is None else f"{self.path}:{self.line}"
        return f"{place}: {self.key}: {self.what}" if self.key else f"{place}: {self.what}"


class FileError(KettlebridgeError):
    """A file a person wrote cannot be used; every mistake is in it."""

    def __init__(self, mistakes: tuple[Mistake, ...]) -> None:
        super().__init__("\n".join(str(mistake) for mistake in mistakes))
        self.mistakes = mistakes


class LinkReason(Enum):
    """Why there is no session with a board."""

    NO_PORT = "no_port"
    NO_BROKER = "no_broker"
    PORT_IN_USE = "port_in_use"
    NO_ANSWER = "no_answer"
    NODE_AWAY = "node_away"
    NOT_ADMITTED = "not_admitted"
    OTHER_BOARD = "other_board"
    OTHER_VERSION = "other_version"
    BUSY = "busy"
    UNSAFE = "unsafe"
    NOT_SIMULATED = "not_simulated"
    LOST = "lost"
    LAPSED = "lapsed"


class LinkError(KettlebridgeError):
    """The board or its wire. `detail` names the port, the id that answered, and such."""

    def __init__(self, reason: LinkReason, detail: str) -> None:
        super().__init__(f"{reason.value}: {detail}")
        self.reason = reason
        self.detail = detail


class JournalError(KettlebridgeError):
    """The record cannot be opened, read or written."""


class OperatorError(KettlebridgeError):
    """Something asked for cannot be done as things stand."""


class UsageError(KettlebridgeError):
    """What was typed makes no sense together, or with the files it names."""
