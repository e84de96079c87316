"""What a person tells a batch."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from kettlebridge.model.ids import CommandId


class CommandKind(Enum):
    """All that may be told. START, HOLD, STOP, RESET, ABORT are those of ISA-88; CARRY_ON is its restart."""

    START = "start"
    CONFIRM = "confirm"
    HOLD = "hold"
    CARRY_ON = "carry-on"
    SKIP = "skip"
    EXTEND = "extend"
    RETARGET = "retarget"
    COUNT_REST = "count-rest"
    ADDING_WATER = "adding-water"
    MEASURED = "measured"
    DRAW_OFF = "draw-off"
    ACKNOWLEDGE = "acknowledge"
    STOP = "stop"
    STOP_HEAT = "stop-heat"
    RESET = "reset"
    ARM = "arm"
    DISARM = "disarm"


LOWERING = frozenset({CommandKind.HOLD, CommandKind.STOP, CommandKind.STOP_HEAT, CommandKind.DISARM})
"""Commands that can only take outputs down: obeyed at any age and from any view of the batch."""


CommandKey = tuple[CommandKind, CommandId]
"""What makes two commands the same one, sent twice: an id is its sender's own, and means one thing a kind."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Command:
    """`who` is for the journal. `at_kettle` is true when the board's button or the code posted at the kettle gave it.

    `seen_n` is the snapshot number that the sender acted on (None: the sender saw none).
    The other fields belong to kinds: `call` CONFIRM, `alarm` ACKNOWLEDGE, `minutes` EXTEND (may be negative) of the
    step `step_index`, which may be one to come (None: the one in hand),
    `target_c` RETARGET, `litres` CONFIRM of a fill or ADDING_WATER, `on` DRAW_OFF (false lets go).
    `at_c` with the CONFIRM of a hot strike water is the grain's temperature.
    MEASURED has one of `litres` (as the kettle's scale shows them), `gravity_sg` (as a hydrometer shows it) and `brix`
    (as a refractometer does), at `at_c`.
    """

    id: CommandId
    kind: CommandKind
    who: str
    at_kettle: bool = False
    seen_n: int | None = None
    call: str | None = None
    alarm: str | None = None
    minutes: float | None = None
    target_c: float | None = None
    litres: float | None = None
    on: bool | None = None
    at_c: float | None = None
    gravity_sg: float | None = None
    brix: float | None = None
    step_index: int | None = None

    @property
    def key(self) -> CommandKey:
        """Which command it is."""
        return self.kind, self.id
