"""What is in the kettle: litres at 20 °C, grain, and the energy it was given.

A claim that there is liquid ends with the batch, a transfer, a drain, or after 24 h, those included in which the
service was away: heating then waits for a new one.
"""

from __future__ import annotations

from enum import Enum
from typing import NamedTuple

from kettlebridge.brewing.day import ROOM_C
from kettlebridge.brewing.energy import BOIL_OFF_W_PER_L_H
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.plan import AskKind, AskStep, Plan

CLAIM_ENDS_S = 24 * 3600.0


class Grain(Enum):
    """Where the grain is. LIFTED: the basket rests above the kettle and drains."""

    NONE = "none"
    IN = "in"
    LIFTED = "lifted"
    AWAY = "away"


class Ledger(NamedTuple):
    """`volume_l` is what the brewer confirmed, moved on by what happened since; None: nothing is claimed."""

    volume_l: float | None = None
    claimed_s: float = 0.0
    grain: Grain = Grain.NONE
    grain_kg: float = 0.0
    energy_j: float = 0.0


EMPTY = Ledger()
GRAIN_IN = Grain.IN
"""By name, as all that a tick asks of enums: to look a member up in its class takes Python 3.11 ten times as long."""


def _filled(ledger: Ledger, plan: Plan, litres: float, now_s: float) -> Ledger:
    return ledger._replace(volume_l=litres, claimed_s=now_s)


def _grain_in(ledger: Ledger, plan: Plan, litres: float, now_s: float) -> Ledger:
    return ledger._replace(grain=Grain.IN, grain_kg=plan.profile.water.grain_kg)


def _lifted(ledger: Ledger, plan: Plan, litres: float, now_s: float) -> Ledger:
    if ledger.volume_l is None:
        return ledger._replace(grain=Grain.LIFTED)
    left_l = ledger.volume_l - plan.kettle.grain_absorption_l_per_kg * ledger.grain_kg
    return ledger._replace(grain=Grain.LIFTED, grain_kg=0.0, volume_l=max(left_l, 0.0))


def with_water(ledger: Ledger, litres: float) -> Ledger:
    """The ledger once that much more is in, where it is known how much there was."""
    return ledger if ledger.volume_l is None else ledger._replace(volume_l=ledger.volume_l + litres)


def _added(ledger: Ledger, plan: Plan, litres: float, now_s: float) -> Ledger:
    return with_water(ledger, litres)


def _basket_away(ledger: Ledger, plan: Plan, litres: float, now_s: float) -> Ledger:
    return ledger._replace(grain=Grain.AWAY)


def _emptied(ledger: Ledger, plan: Plan, litres: float, now_s: float) -> Ledger:
    return ledger._replace(volume_l=None, grain=Grain.NONE, grain_kg=0.0)


AFTER_ASK = {
    AskKind.FILL: _filled,
    AskKind.DOUGH_IN: _grain_in,
    AskKind.LIFT: _lifted,
    AskKind.INFUSE: _added,
    AskKind.SPARGE: _added,
    AskKind.BASKET_AWAY: _basket_away,
    AskKind.EMPTY: _emptied,
}
"""What a confirmed ask means for what is in the kettle; an absent kind means nothing."""


def litres_asked(step: AskStep, plan: Plan) -> float | None:
    """The litres a fill, an infusion or a sparge is about, from the step or else from the profile's water."""
    if step.litres is not None:
        return step.litres
    by_kind = {AskKind.FILL: plan.profile.water.fill_l, AskKind.SPARGE: plan.profile.water.sparge_l}
    return by_kind.get(step.what)


def after_ask(ledger: Ledger, plan: Plan, step: AskStep, litres: float | None, now_s: float) -> Ledger:
    """The ledger once `step` was confirmed, with `litres` if the brewer said other than asked."""
    change = AFTER_ASK.get(step.what)
    if change is None:
        return ledger
    asked_l = litres_asked(step, plan)
    return change(ledger, plan, litres if litres is not None else (asked_l or 0.0), now_s)


def measured(ledger: Ledger, volume_l: float) -> Ledger:
    """The ledger once the brewer has measured; nothing claimed stays so, and the claim grows no younger."""
    return ledger if ledger.volume_l is None else ledger._replace(volume_l=volume_l)


def transferred(ledger: Ledger) -> Ledger:
    """The ledger once the wort has left for the fermenter."""
    return ledger._replace(volume_l=None)


def after_absence(ledger: Ledger, away_s: float) -> Ledger:
    """The ledger once the service is back: batch time stood still meanwhile, what is in the kettle did not."""
    return ledger._replace(claimed_s=ledger.claimed_s - away_s)


def still_claimed(ledger: Ledger, now_s: float) -> Ledger:
    """The ledger with a claim that has grown too old taken back."""
    if ledger.volume_l is not None and now_s - ledger.claimed_s > CLAIM_ENDS_S:
        return ledger._replace(volume_l=None)
    return ledger


def moved_on(ledger: Ledger, kettle: Kettle, heater_permille: int, boiling: bool, dt_s: float) -> Ledger:
    """The ledger after `dt_s` at `heater_permille`: energy in, litres boiled off."""
    if heater_permille == 0:
        return ledger
    power_w = kettle.heater_w * heater_permille / 1000.0
    volume_l, claimed_s, grain, grain_kg, energy_j = ledger
    if boiling and volume_l is not None:
        net_w = max(power_w - kettle.loss_w_per_k * (kettle.boil_c - ROOM_C), 0.0)
        volume_l = max(volume_l - net_w / BOIL_OFF_W_PER_L_H * dt_s / 3600.0, 0.0)
    return Ledger(volume_l, claimed_s, grain, grain_kg, energy_j + power_w * dt_s)
