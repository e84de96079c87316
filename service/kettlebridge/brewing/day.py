"""What a brew sheet must be told of the day itself, beside recipe and kettle."""

from __future__ import annotations

from dataclasses import dataclass

GRAIN_C, ROOM_C, TAP_C = 18.0, 20.0, 12.0
"""Where nobody says otherwise (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """`dough_in_min`: from the heater going off to the grain being stirred in. `sparge_pot_w`: the other pot's heat.

    `ready_min`: minutes after midnight at which the strike water is to be hot; None: no clock times.
    """

    grain_c: float = GRAIN_C
    room_c: float = ROOM_C
    tap_c: float = TAP_C
    dough_in_min: float = 6.0
    sparge_pot_w: float = 1500.0
    ready_min: float | None = None
    price_per_kwh: float | None = None
