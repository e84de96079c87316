"""What the regulator believes about the heat in the kettle, carried from tick to tick, heating or not."""

from __future__ import annotations

from typing import NamedTuple

from kettlebridge.core import bed as beds
from kettlebridge.core import identify
from kettlebridge.core.bed import NO_BED, Bed
from kettlebridge.core.heat import Contents
from kettlebridge.core.identify import NO_HEAT_UP, HeatUp, Promise, Verdict, Watch
from kettlebridge.core.known import Known, beforehand, promised_c_per_s
from kettlebridge.core.ledger import GRAIN_IN, Grain
from kettlebridge.core.model_regulator import (
    Aim,
    mash_duty,
    mash_model,
    water_duty,
    water_model,
)
from kettlebridge.core.observer import Estimate, Model, begun, corrected, doubted, predicted
from kettlebridge.core.situation import Situation
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.kettle import Kettle, MashTarget

NEAR_BOIL_C = 6.0
"""So far under the expected boil a heat-up is no longer watched: steam takes a share that no model here has."""
STALE_S = 30.0
"""After such a gap between two readings the kettle is looked at afresh."""
BEGIN_SPREAD_C = 1.0
MASH_SPREAD_C = 2.0
DRIFT_SPREAD_FRACTION = 0.05


Key = tuple[float, Grain, bool, float]
"""What a model was made for: litres to a decimal, grain, pump, room to the degree."""


class Thermal(NamedTuple):
    """`known` None before the first reading; `fits` False once a heat-up contradicted the figures.

    `taught` is what the batch's first whole heat-up came to: the strike water's, with litres that were just poured.
    """

    known: Known | None = None
    prior: Known | None = None
    fits: bool = True
    taught: Known | None = None
    estimate: Estimate | None = None
    model: Model | None = None
    key: Key | None = None
    taken_s: float = 0.0
    heat_up: HeatUp = NO_HEAT_UP
    bed: Bed = NO_BED


UNKNOWN = Thermal()


def followed(thermal: Thermal, here: Situation, control_c: float) -> tuple[Thermal, tuple[Event, ...]]:
    """The belief after one more tick, and what a heat-up taught."""
    (volume_l, _, grain, _, _), u, dt_s, taken_s = here.ledger, here.applied_fraction, here.dt_s, here.control_s
    if volume_l is None:
        return (thermal, ()) if thermal.estimate is None else (thermal._replace(estimate=None, heat_up=NO_HEAT_UP), ())
    known = thermal.known
    if known is None:
        known = beforehand(here.kettle, here.learnt)
        thermal = thermal._replace(known=known, prior=known)
    key = (round(volume_l, 1), grain, here.pumping, float(round(here.ambient_c)))
    _, prior, fits, taught, estimate, model, _, before_s, before, bed = thermal
    fresh = taken_s > before_s
    if fresh and taken_s - before_s > STALE_S:
        estimate = None
    if key != thermal.key or estimate is None or model is None:
        model = _model(here, known)
        mash = grain is GRAIN_IN
        if estimate is None or thermal.key is None or (thermal.key[1] is GRAIN_IN) != mash:
            estimate, bed = _begun(estimate, control_c, model, mash), NO_BED
    estimate = predicted(estimate, model, u, dt_s)
    if fresh:
        estimate = corrected(estimate, model, u, control_c)
    else:
        taken_s = before_s
    if grain is GRAIN_IN:
        bed = beds.followed(bed, estimate, model, u, dt_s, here.pumping)
    heat_up = _watched(before, here, control_c)
    thermal = Thermal(known, prior, fits, taught, estimate, model, key, taken_s, heat_up, bed)
    if identify.fit_due(heat_up):
        return _taught(thermal, here)
    if heat_up.over and not before.over and heat_up.fits and fits:
        return thermal._replace(taught=taught or known), (_event(known, Verdict.FITS),)
    return thermal, ()


def _model(here: Situation, known: Known) -> Model:
    if here.ledger.grain is GRAIN_IN:
        return mash_model(here.kettle, known, here.ledger, here.ambient_c, here.pumping)
    volume_l = here.ledger.volume_l or here.kettle.capacity_l
    return water_model(here.kettle, known, volume_l, here.ambient_c)


def _begun(before: Estimate | None, control_c: float, model: Model, mash: bool) -> Estimate:
    if mash:
        estimate = begun(control_c, MASH_SPREAD_C, DRIFT_SPREAD_FRACTION * model.heat_c_per_s)
    else:
        estimate = begun(control_c, BEGIN_SPREAD_C, DRIFT_SPREAD_FRACTION * model.heat_c_per_s)
    return estimate if before is None else estimate._replace(u1=before.u1, u2=before.u2)


def _watched(heat_up: HeatUp, here: Situation, control_c: float) -> HeatUp:
    """Only plain liquid away from the boil teaches."""
    if heat_up.over and here.applied_fraction > 0.0:
        return heat_up
    if here.ledger.grain is GRAIN_IN:
        return NO_HEAT_UP
    if control_c > here.kettle.boil_c - NEAR_BOIL_C:
        return heat_up._replace(over=True)
    return identify.watched(heat_up, Watch(control_c, here.applied_fraction, here.ambient_c, here.now_s, here.dt_s))


def _taught(thermal: Thermal, here: Situation) -> tuple[Thermal, tuple[Event, ...]]:
    """The next fit of the heat-up in hand."""
    heat_up, prior = thermal.heat_up, thermal.prior
    assert prior is not None and thermal.estimate is not None and thermal.model is not None  # noqa: S101, PT018  # filled by `followed`
    rate = promised_c_per_s(here.kettle, Contents(volume_l=here.ledger.volume_l or here.kettle.capacity_l))
    known, verdict = identify.fitted(heat_up, prior, thermal.known or prior, Promise(rate, here.kettle.heater_w))
    if verdict is not Verdict.FITS and heat_up.fits and thermal.fits:
        # It began as expected: something happened since. What the first minutes taught is kept.
        return thermal._replace(heat_up=heat_up._replace(over=True)), (_event(thermal.known or prior, verdict),)
    heat_up = heat_up._replace(fits=heat_up.fits + 1)
    model = _model(here, known)
    before = thermal.model
    moved_c = model.heat_c_per_s * model.tau_s - before.heat_c_per_s * before.tau_s
    lifted_c = model.lift_c - before.lift_c
    drift = 0.1 * (model.heat_c_per_s - before.heat_c_per_s)
    estimate = doubted(thermal.estimate, 4.0 * moved_c * moved_c + lifted_c * lifted_c, drift * drift)
    fits = verdict is Verdict.FITS
    events = (_event(known, verdict),) if thermal.fits and not fits else ()
    return thermal._replace(known=known, fits=fits, heat_up=heat_up, model=model, estimate=estimate), events


def _event(known: Known, verdict: Verdict) -> Event:
    return Event(
        code=EventCode.HEAT_UP_FITTED if verdict is Verdict.FITS else EventCode.HEAT_UP_UNFIT,
        values=(
            ("verdict", verdict.value),
            ("rate_fraction", round(known.rate_fraction, 4)),
            ("loss_w_per_k", round(known.loss_w_per_k, 2)),
            ("delay_s", round(known.delay_s, 1)),
            ("stratification_c", round(known.lift_c, 2)),
        ),
    )


def wanted(thermal: Thermal, kettle: Kettle, aim: Aim) -> float:
    """The duty (0-1) of the model-based law."""
    estimate, model, key = thermal.estimate, thermal.model, thermal.key
    if estimate is None or model is None or key is None:
        return 0.0
    if key[1] is not GRAIN_IN:
        return water_duty(estimate, model, aim)
    return mash_duty(estimate, model, aim, thermal.bed if key[2] and kettle.mash_target is MashTarget.BED else None)


def bed_c(thermal: Thermal) -> float | None:
    """The grain bed's temperature, None where no pump drives liquid through one."""
    if thermal.estimate is None or thermal.key is None or thermal.key[1] is not GRAIN_IN or not thermal.key[2]:
        return None
    return thermal.bed.middle_c
