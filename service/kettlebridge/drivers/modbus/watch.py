"""Which modules answer, and what the log is told of it: one line on loss, one on return. Pure: time is an argument."""

from __future__ import annotations

import logging
from dataclasses import dataclass

from kettlebridge.drivers.modbus.blocks import Block
from kettlebridge.drivers.modbus.codec import Trouble, TroubleKind

log = logging.getLogger(__name__)

DEAD_AFTER = 3
DEAD_EVERY_S = 5.0
"""A module that answers nothing costs the line a whole time-out at each question."""


@dataclass(slots=True, kw_only=True)
class _Standing:
    failures: int = 0
    trouble: Trouble | None = None
    due_s: float = 0.0
    told: bool = False


class Watch:
    """How each block stands."""

    def __init__(self, port: str) -> None:
        self._port = port
        self._standings: dict[Block, _Standing] = {}

    def is_due(self, block: Block, now_s: float) -> bool:
        """Whether it is worth asking for now."""
        return now_s >= self._of(block).due_s

    def trouble(self, block: Block) -> Trouble | None:
        """What the last question for it met with."""
        return self._of(block).trouble

    def answered(self, block: Block) -> None:
        """Its values came."""
        standing = self._of(block)
        if standing.told:
            log.warning("%s on %s: answers again", block.words, self._port)
        self._standings[block] = _Standing()

    def failed(self, block: Block, trouble: Trouble, now_s: float) -> None:
        """They did not. Told once it lasts: a refusal at once, as asking again will not mend it."""
        standing = self._of(block)
        standing.trouble = trouble
        standing.failures += 1
        tell_at = 1 if trouble.kind is TroubleKind.REFUSED else DEAD_AFTER
        if standing.failures >= tell_at and not standing.told:
            standing.told = True
            log.warning("%s on %s: %s", block.words, self._port, trouble)
        if standing.failures >= DEAD_AFTER and trouble.kind is TroubleKind.SILENT and not block.vital:
            standing.due_s = now_s + DEAD_EVERY_S

    def _of(self, block: Block) -> _Standing:
        return self._standings.setdefault(block, _Standing())
