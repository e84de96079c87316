"""What a regulator may know in one tick."""

from __future__ import annotations

from typing import NamedTuple

from kettlebridge.core.ledger import Ledger
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.learnt import Learnt


class Situation(NamedTuple):
    """What the liquid is like now.

    `control_s` is when `control_c` was taken. `pumping` and `applied_fraction`, what the heater has done since the last
    tick, are the board's word; so is that the main contactor is closed, where it is `contactor_ready`.
    """

    kettle: Kettle
    learnt: Learnt | None
    ledger: Ledger
    control_c: float | None
    control_s: float
    ambient_c: float
    limit_fraction: float
    contactor_ready: bool
    applied_fraction: float
    pumping: bool
    now_s: float
    dt_s: float
