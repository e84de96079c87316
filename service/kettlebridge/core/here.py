"""What a tick goes by once readings, commands and the sequencer have been heard."""

from __future__ import annotations

from typing import NamedTuple

from kettlebridge.core.probes import ProbeMemory, Seats
from kettlebridge.core.sequencer import Sequenced
from kettlebridge.core.state import State
from kettlebridge.core.trail import Trail
from kettlebridge.model.inputs import Inputs
from kettlebridge.model.plan import AnyStep, Plan


class Seen(NamedTuple):
    """What the tick goes by. `dt_s` is the time that counts, `unlinked_since_s` None while the board is linked.

    `control` is its seat's memory. `touched`: the brewer did something to what is in the kettle.
    """

    control: ProbeMemory
    seats: Seats
    bed_c: float | None
    ambient_c: float
    trail: Trail
    now_s: float
    dt_s: float
    unlinked_since_s: float | None
    touched: bool


class Here(NamedTuple):
    """All that evidence is gathered from. `step` None: the day is over."""

    plan: Plan
    state: State
    inputs: Inputs
    seen: Seen
    sequenced: Sequenced
    step: AnyStep | None
