"""What is known of a kettle's heat: the file's figures, what earlier heat-ups taught, what this one did."""

from __future__ import annotations

from typing import NamedTuple

from kettlebridge.brewing.water import WATER_J_PER_KG_K
from kettlebridge.core.heat import Contents, Rise
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.learnt import Learnt

VESSEL_FRACTION = 0.04
"""Heat capacity of vessel and element over the water's (estimate, no source)."""
RATE_SPREAD = 0.25
LOSS_SPREAD_FRACTION = 0.6
DELAY_SPREAD_S = 10.0
LIFT_C = 0.8
LIFT_SPREAD_C = 0.2
SEEN_AFTER_DELAYS = 0.8
"""Of the probe's delay, from the water being there to the reading being there: the last of it is within tolerance."""
LEAST_RATE_SPREAD = 0.06
LEAST_LOSS_SPREAD_FRACTION = 0.2
LEAST_DELAY_SPREAD_S = 4.0
LEAST_LIFT_SPREAD_C = 0.1
"""Of what was learnt: litres are poured with a jug again, the lid lies otherwise, the probe was moved a little."""


class Known(NamedTuple):
    """The figures and their spreads (one standard deviation); `rate_fraction` is of what file and litres promise."""

    rate_fraction: float
    rate_spread: float
    loss_w_per_k: float
    loss_spread_w_per_k: float
    delay_s: float
    delay_spread_s: float
    lift_c: float
    lift_spread_c: float


def beforehand(kettle: Kettle, learnt: Learnt | None) -> Known:
    """What is known before the batch's first heat-up."""
    if learnt is None:
        return Known(
            rate_fraction=1.0,
            rate_spread=RATE_SPREAD,
            loss_w_per_k=kettle.loss_w_per_k,
            loss_spread_w_per_k=LOSS_SPREAD_FRACTION * kettle.loss_w_per_k,
            delay_s=kettle.probe_delay_s,
            delay_spread_s=DELAY_SPREAD_S,
            lift_c=LIFT_C,
            lift_spread_c=LIFT_SPREAD_C,
        )
    return Known(
        rate_fraction=learnt.rate_fraction,
        rate_spread=max(learnt.rate_spread, LEAST_RATE_SPREAD),
        loss_w_per_k=learnt.loss_w_per_k,
        loss_spread_w_per_k=max(learnt.loss_spread_w_per_k, LEAST_LOSS_SPREAD_FRACTION * learnt.loss_w_per_k),
        delay_s=learnt.delay_s,
        delay_spread_s=max(learnt.delay_spread_s, LEAST_DELAY_SPREAD_S),
        lift_c=learnt.stratification_c,
        lift_spread_c=max(learnt.stratification_spread_c, LEAST_LIFT_SPREAD_C),
    )


def capacity_j_per_k(contents: Contents) -> float:
    """Heat capacity of what is in the kettle, with a usual vessel's share."""
    return contents.capacity_j_per_k + VESSEL_FRACTION * WATER_J_PER_KG_K * contents.volume_l


def promised_c_per_s(kettle: Kettle, contents: Contents) -> float:
    """Rise at full power by the file's figures, the vessel's share included."""
    return kettle.heater_w / capacity_j_per_k(contents)


def rise_by(known: Known, kettle: Kettle, contents: Contents) -> Rise:
    """What is to be expected of a heat-up; never for an interlock."""
    return Rise(
        rate_c_per_s=known.rate_fraction * promised_c_per_s(kettle, contents),
        loss_per_s=known.loss_w_per_k / capacity_j_per_k(contents),
        delay_s=SEEN_AFTER_DELAYS * known.delay_s,
    )
