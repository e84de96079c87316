"""The grain bed: it follows the stream from the zone under the basket, and stays colder by what the stream loses.

    bed' = pace (zone - drop - bed) while the pump runs;  only its losses while it does not

In the steady state the stream loses on its way round what the heater puts in, and has lost about half of it in the
middle of the bed: that is the drop. The bed's temperature does not come from the observer's balance, which splits what
it can't explain between the rest and the exchange: over an hour that may wander, while this returns to zone less drop.
"""

from __future__ import annotations

from typing import NamedTuple

from kettlebridge.brewing.water import WATER_J_PER_KG_K
from kettlebridge.core.observer import Estimate, Model
from kettlebridge.model.kettle import Kettle

HALF_WAY = 0.5
"""Of what the stream loses on its way round, the share that is lost by mid-bed, as the probe sees it."""
PACE = 1.8
"""Of the exchange between zone and rest, so much quicker the bed follows (tuned on the simulator)."""
MOST_DROP_C = 3.0
DROP_TAU_S = 600.0
STEADY_C = 0.5
"""So near to its own end the bed is taken for steady, and the heater's share for what the stream loses."""


class Bed(NamedTuple):
    """`middle_c` of the bed, None without one; `drop_c` below the zone, None until the pump first ran."""

    middle_c: float | None = None
    drop_c: float | None = None


NO_BED = Bed()


def followed(bed: Bed, e: Estimate, m: Model, u: float, dt_s: float, pumping: bool) -> Bed:  # noqa: PLR0913
    """The bed `dt_s` later with the heater at `u` meanwhile. Before the pump first ran it is what the observer says."""
    if bed.middle_c is None or (bed.drop_c is None and not pumping):
        return Bed(e.upper_c, bed.drop_c)
    lost_c_per_s = (m.upper_out - m.upper_in) * bed.middle_c - m.upper_feed
    if not pumping:
        return Bed(bed.middle_c - lost_c_per_s * dt_s, bed.drop_c)
    drop_c = HALF_WAY * lost_c_per_s / m.upper_in if bed.drop_c is None else bed.drop_c
    ahead_c = e.zone_c - drop_c - bed.middle_c
    if -STEADY_C < ahead_c < STEADY_C:
        lost_c = m.heat_c_per_s * u / m.zone_out - PACE * ahead_c  # what warms the bed is not lost
        drop_c += (HALF_WAY * lost_c - drop_c) * min(dt_s / DROP_TAU_S, 1.0)
    return Bed(bed.middle_c + ahead_c * min(PACE * m.upper_in * dt_s, 1.0), min(max(drop_c, 0.0), MOST_DROP_C))


def steady_drop_c(kettle: Kettle, losses_w: float) -> float:
    """By how much mid-bed is colder than the stream that the heater has just warmed, at these losses."""
    stream_w_per_k = WATER_J_PER_KG_K * kettle.pump_l_per_min / 60.0
    return min(max(HALF_WAY * losses_w / stream_w_per_k, 0.0), MOST_DROP_C)
