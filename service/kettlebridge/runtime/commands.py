"""The way in for commands: to the inbox of the kettle they are for."""

from __future__ import annotations

import asyncio
from collections.abc import Iterable, Mapping

from kettlebridge.model.command import Command
from kettlebridge.model.errors import OperatorError
from kettlebridge.model.ids import KettleId
from kettlebridge.ports import Verdict
from kettlebridge.runtime.inbox import KettleInbox


class KettleCommands:
    """The Commands port over the inboxes of this process."""

    def __init__(self, inboxes: Mapping[KettleId, KettleInbox]) -> None:
        self._inboxes = dict(inboxes)

    async def submit(self, kettle: KettleId, command: Command) -> Verdict:
        """Waits for the verdict; whoever gives up waiting takes nothing back. Raises OperatorError: no such kettle."""
        inbox = self._inboxes.get(kettle)
        if inbox is None:
            raise unknown_kettle(kettle, self._inboxes)
        return await asyncio.shield(inbox.submit(command))


def unknown_kettle(kettle: KettleId, known: Iterable[KettleId]) -> OperatorError:
    """The refusal of a name that is none of those there are."""
    return OperatorError(f"no kettle {kettle!r} here; there is {', '.join(sorted(known)) or 'none'}")
