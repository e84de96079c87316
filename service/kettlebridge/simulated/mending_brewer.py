"""What a simulated brewer does about a fault: comes to its alarm after a while, puts it right, and carries on."""

from __future__ import annotations

import random

from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import Command, CommandKind
from kettlebridge.model.ids import CommandId
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.simulated.practice_faults import Happened, PracticeFaults

MENDS_AFTER_S = (90.0, 420.0)
"""The first word of it (an invented person's habits)."""

TRIES_AGAIN_S = 60.0
"""To carry on, where the kettle says not yet."""


class MendingBrewer:
    """`look` once for each snapshot. Says what a real brewer has: seen, and carry on."""

    def __init__(self, faults: PracticeFaults, *, seed: int) -> None:
        self._faults = faults
        self._rng = random.Random(f"mending/{seed}")  # noqa: S311  # habits, not secrets
        self._comes_to: Happened | None = None
        self._mends_s = self._tries_s = 0.0
        self._count = 0

    def look(self, snapshot: Snapshot) -> tuple[Command, ...]:
        """The commands of this moment."""
        standing = self._faults.standing
        if standing is None:
            return self._carries_on(snapshot)
        if standing is not self._comes_to and standing.found:
            self._comes_to = standing
            self._mends_s = snapshot.now_s + self._rng.uniform(*MENDS_AFTER_S)
        if standing is not self._comes_to or snapshot.now_s < self._mends_s:
            return ()
        self._faults.put_right(snapshot)
        self._tries_s = snapshot.now_s + TRIES_AGAIN_S
        return (self._say(CommandKind.ACKNOWLEDGE, snapshot),) if snapshot.alarms else ()

    def _carries_on(self, snapshot: Snapshot) -> tuple[Command, ...]:
        """Only what its own mishap paused."""
        one = self._comes_to
        if one is None or snapshot.state is not BatchState.HELD or snapshot.now_s < self._tries_s:
            return ()
        if snapshot.hold_cause not in {rule for rule, _ in one.found}:
            return ()
        self._tries_s = snapshot.now_s + TRIES_AGAIN_S
        return (self._say(CommandKind.CARRY_ON, snapshot),)

    def _say(self, kind: CommandKind, snapshot: Snapshot) -> Command:
        self._count += 1
        return Command(
            id=CommandId(f"mending.{self._count}"),
            kind=kind,
            who="simulated brewer",
            at_kettle=True,
            seen_n=snapshot.n,
        )
