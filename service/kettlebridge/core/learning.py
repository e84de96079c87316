"""What a batch adds to what is known of its kettle, to be kept for the next one."""

from __future__ import annotations

from kettlebridge.core.known import Known
from kettlebridge.core.state import State
from kettlebridge.model.learnt import Learnt
from kettlebridge.model.plan import Plan

MOST_REMEMBERED = 5
"""The newest heat-up counts for at least a fifth: scale grows, probes are moved."""


def learnt_after(plan: Plan, state: State) -> Learnt | None:
    """For the next batch's plan: this one's first heat-up merged into what was known; as it was where none fitted."""
    before, taught = plan.learnt, state.thermal.taught
    if taught is None:
        return before
    count = 0 if before is None else before.heat_ups
    weight = 1.0 / min(count + 1, MOST_REMEMBERED)
    old = taught if before is None else _as_known(before)
    mean = Known(*(was + weight * (now - was) for was, now in zip(old, taught, strict=True)))
    return Learnt(
        rate_fraction=mean.rate_fraction,
        rate_spread=mean.rate_spread,
        loss_w_per_k=mean.loss_w_per_k,
        loss_spread_w_per_k=mean.loss_spread_w_per_k,
        delay_s=mean.delay_s,
        delay_spread_s=mean.delay_spread_s,
        stratification_c=mean.lift_c,
        stratification_spread_c=mean.lift_spread_c,
        learnt_at_utc_s=state.at_utc_s,
        heat_ups=count + 1,
    )


def _as_known(learnt: Learnt) -> Known:
    return Known(
        learnt.rate_fraction,
        learnt.rate_spread,
        learnt.loss_w_per_k,
        learnt.loss_spread_w_per_k,
        learnt.delay_s,
        learnt.delay_spread_s,
        learnt.stratification_c,
        learnt.stratification_spread_c,
    )
