"""Who may do what. A row for each role; whoever signed in may stop all heat."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from kettlebridge.model.command import CommandKind
from kettlebridge.model.ids import KettleId


class Role(Enum):
    """VIEWER has only a link; the others have signed in."""

    VIEWER = "viewer"
    WATCHER = "watcher"
    KETTLE = "kettle"
    ALL = "all"


ROLE_WORDS: dict[Role, str] = {
    Role.VIEWER: "You came by a link that only shows.",
    Role.WATCHER: "You may look, and stop all heat.",
    Role.KETTLE: "You may tell one kettle everything, and stop all heat on any.",
    Role.ALL: "You may tell every kettle everything.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Visitor:
    """`who` goes into the record; `kettle` belongs to KETTLE; `token` must come back with every form of a session."""

    who: str
    role: Role
    kettle: KettleId | None = None
    token: str = ""

    def may(self, kettle: KettleId, kind: CommandKind) -> bool:
        """Whether this one may give that command there."""
        if self.role is Role.VIEWER:
            return False
        if kind is CommandKind.STOP_HEAT:
            return True
        return self.role is Role.ALL or (self.role is Role.KETTLE and self.kettle == kettle)


HERE = Visitor(who="page", role=Role.ALL)
"""Whoever sits at the machine itself, as long as no pass-phrase is set."""
