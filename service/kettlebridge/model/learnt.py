"""What a kettle's own heat-ups have taught about it; kept between batches, and never used by an interlock."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Learnt:
    """Each figure with its spread (one standard deviation).

    `rate_fraction`: the rise at full power over what the kettle file and the confirmed litres promise (1: as
    promised). `loss_w_per_k` holds at the temperatures of a heat-up, lid as it was. `delay_s`: from element to
    control probe. `stratification_c`: by how much the control probe reads above the mean at full power, pump off.
    `learnt_at_utc_s` is the newest heat-up's time, `heat_ups` how many there were.
    """

    rate_fraction: float
    rate_spread: float
    loss_w_per_k: float
    loss_spread_w_per_k: float
    delay_s: float
    delay_spread_s: float
    stratification_c: float
    stratification_spread_c: float
    learnt_at_utc_s: float
    heat_ups: int
