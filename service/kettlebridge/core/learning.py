"""What a batch adds to what is known of its kettle, to be kept for the next one."""

from __future__ import annotations

from collections.abc import Iterable

from kettlebridge.core.known import (
    LEAST_DELAY_SPREAD_S,
    LEAST_LIFT_SPREAD_C,
    LEAST_LOSS_SPREAD_FRACTION,
    LEAST_RATE_SPREAD,
    Known,
)
from kettlebridge.core.state import State
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.learnt import Learnt
from kettlebridge.model.plan import Plan

TOLD = ("rate_fraction", "loss_w_per_k", "delay_s", "stratification_c")
MOST_REMEMBERED = 5
"""The newest heat-up counts for at least a fifth: scale grows, probes are moved."""


def learnt_after(plan: Plan, state: State) -> Learnt | None:
    """For the next batch's plan: this one's first heat-up merged into what was known; as it was where none fitted."""
    before, taught = plan.learnt, state.thermal.taught
    if taught is None:
        return before
    return _merged(before, taught, state.at_utc_s)


def learnt_from(plan: Plan, events: Iterable[Event], at_utc_s: float) -> Learnt | None:
    """The same from the record of a batch begun at `at_utc_s`: its events say what its first heat-up came to."""
    told = next((event for event in events if event.code is EventCode.HEAT_UP_FITTED), None)
    figures = None if told is None else [told.get(name) for name in TOLD]
    if figures is None:
        return plan.learnt
    rate_fraction, loss_w_per_k, delay_s, lift_c = (float(value or 0.0) for value in figures)
    # What narrower spreads a fit had, the next batch widens to these anyway.
    taught = Known(
        rate_fraction=rate_fraction,
        rate_spread=LEAST_RATE_SPREAD,
        loss_w_per_k=loss_w_per_k,
        loss_spread_w_per_k=LEAST_LOSS_SPREAD_FRACTION * loss_w_per_k,
        delay_s=delay_s,
        delay_spread_s=LEAST_DELAY_SPREAD_S,
        lift_c=lift_c,
        lift_spread_c=LEAST_LIFT_SPREAD_C,
    )
    return _merged(plan.learnt, taught, at_utc_s)


def still_of(learnt: Learnt | None, before: Kettle, now: Kettle) -> Learnt | None:
    """What was learnt, unless the kettle file has since changed what it was measured against."""
    same = (before.heater_w, before.capacity_l) == (now.heater_w, now.capacity_l)
    return learnt if same else None


def _merged(before: Learnt | None, taught: Known, at_utc_s: float) -> Learnt:
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
        learnt_at_utc_s=at_utc_s,
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
