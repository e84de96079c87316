"""Does what the probe says fit the heat that was given? Running sums that ask it, by nameplate and confirmed litres.

Each sum grows by how far the probe's change is from what can be explained, never falls below nothing, and begins anew
where liquid was moved: a cumulative sum (Page, Biometrika 41 (1954) 100), which finds a lasting deviation of a given
size about as soon as it can be found, and which a healthy day keeps near nothing. Nothing learnt goes into it.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from kettlebridge.brewing.vessel import surface_m2
from kettlebridge.brewing.water import WATER_J_PER_KG_K
from kettlebridge.core.heat import MALT_J_PER_KG_K
from kettlebridge.core.ledger import GRAIN_IN, Grain, Ledger
from kettlebridge.model.kettle import Kettle

SETTLES_S = 60.0
SETTLES_WITH_GRAIN_S = 180.0
"""So long after liquid was moved nothing is judged by temperature; grain lets it through slowly. Where all is told off,
`OPEN_AFTER_S` is enough: there a late alarm is worse than a false one."""
PUT_BACK_C = 1.0
"""Such a step in one second while the day stands still, beyond full power: the probe was elsewhere, it is no heat."""
LACK_SHARE = 0.4
LACK_NET_FRACTION = 0.5
LACK_C = 0.4 * 1.5
"""Less than 40 % of the expected rise, over 1.5 °C of it, where half of full power is left after losses."""
LEAST_SHARE = 0.7
LOSSES_SHARE = 2.0
"""Nor more than a healthy heater is sure to bring: mains 10 % low are 0.81, litres 15 % more 0.87, a wide open kettle
loses twice what is reckoned."""
ARRIVES_C = 1.0
"""So near its target a rise may end."""
LACK_LAG_S = 15.0
"""Beyond the file's delay: a pocket without paste."""
MOST_SHARE = 1.45
"""Full power into what was confirmed explains no more: mains 10 % high are 1.21, litres 15 % short are 1.18."""
FAST_C = 2.0
STRAY_C = 1.0
STRAY_GONE_C = 0.2
"""What was found has to fall by so much to be gone: a probe's last digit does not make an alarm come and go."""
STRAY_MASH_SHARE = 1.0 / 3.0
"""What a rise counts where grain is in: the bed may give the zone under it some degrees that no heater made."""
WARM_ROOM_C = 32.0
WARMS_SHARE = 2.0
"""Cold liquid warms by itself: at most towards such a room, twice as fast as the file's losses say."""
HIGH_DUTY_FRACTION = 0.5
OPEN_AFTER_S = 120.0
MIXES_C = 5.0
"""What stirring and draining bring up from a hotter place, while hands are at work and everything is told off. More,
beyond what is to be poured in at its hottest, is heat."""
FALLS_SHARE = 0.3
"""Just told off, a boil falls by at least that share of its losses by the file."""
SAME_C = 1e-6
FROZEN_C = 2.0
NEAR_BOIL_C = 4.0
"""So far under the expected boil, in a boil step, a rise may end: weather, altitude and steam have their share."""
BUDGET_SHARE = 1.7
"""Mains 10 % low give 0.81 of the nameplate, 15 % more litres and the vessel take 1.2 times the heat: 1.48 together."""
BUDGET_J = 0.36e6
BUDGET_C = 2.0
OPEN_W_PER_M2_AT_66_C = 2700.0
OPEN_GROWTH_PER_C = 0.0425
"""An open tank of hot water: 2.7 kW/m2 at 66 °C, 8.5 at 93 (tables of tank heat losses, no single source)."""
HEIGHT_PER_DIAMETER = 1.1
"""Slimmer than `brewing.vessel` has it: the less vapour is counted, the sooner a heater that gives too little shows."""


class HeatWatch(NamedTuple):
    """The sums, and what they need to remember.

    `lag1`, `lag2`: the heater's share of full power as the probe shows it. `lack_c`, `fast_c`, `stray_c`: rise that is
    missing, more than full power explains, more than a low duty explains. `same_c`: change that was expected since
    the reading last differed. `left_j`: energy left of what the stage may take; None where no target is held.
    `open_since_s`: since when heat is told off and the main contactor open. `put_back_s`: when it was last heard of
    anew, or seen to have been somewhere else, while the day stood still. `asked_c`: what it read when the step
    `asked_step` began, in which hands move liquid; None where none do.
    """

    last_c: float | None = None
    lag1: float = 0.0
    lag2: float = 0.0
    lack_c: float = 0.0
    fast_c: float = 0.0
    stray_c: float = 0.0
    same_c: float = 0.0
    left_j: float | None = None
    stage_begun_s: float = 0.0
    open_since_s: float | None = None
    put_back_s: float = -math.inf
    asked_step: int = 0
    asked_c: float | None = None

    @property
    def found(self) -> bool:
        """Whether any of them says so; the rules that act on it ask which, and where it counts."""
        _, _, _, lack_c, fast_c, stray_c, same_c, left_j, _, _, _, _, _ = self
        return (
            lack_c >= LACK_C
            or fast_c >= FAST_C
            or stray_c >= STRAY_C
            or abs(same_c) >= FROZEN_C
            or (left_j is not None and left_j < 0.0)
        )


UNWATCHED = HeatWatch()
NO_GRAIN, GRAIN_AWAY = Grain.NONE, Grain.AWAY


class Heating(NamedTuple):
    """What a tick knows of the heat. `applied_fraction` is the board's word, `recent_fraction` what may still show.

    `moved`: liquid was moved in this tick; `still_s`: how long none was, nor could be. `pours`: hands are at work, and
    up to `poured_l` of at least `poured_c` are poured in. `falling`: it fell of late by more than an idle heater
    explains. `running`: the batch runs, in a step that heats. `boils`: a boil step, whose rise ends. `target_c` None
    where none is held; `stage_begun_s` names the stage, `step_index` the step.
    """

    kettle: Kettle
    ledger: Ledger
    control_c: float | None
    ambient_c: float
    applied_fraction: float
    recent_fraction: float
    told_off: bool
    moved: bool
    still_s: float
    pours: bool
    poured_l: float
    poured_c: float
    falling: bool
    running: bool
    boils: bool
    target_c: float | None
    stage_begun_s: float
    step_index: int
    now_s: float
    dt_s: float


class Change(NamedTuple):
    """One tick's change of the reading, and what it is judged by.

    `lag1`, `lag2`: the heater's share of full power as the probe shows it. `lost`, `net`: losses, and what is left
    after them, as such shares. `whole_c`: what full power makes in this tick of all that is in the kettle; `most_c`:
    the most that the heater and a warm room can make of what the probe sees.
    """

    control_c: float
    change_c: float
    whole_j_per_k: float
    lag1: float
    lag2: float
    lost: float
    net: float
    whole_c: float
    most_c: float
    near_boil: bool


def followed(w: HeatWatch, h: Heating) -> HeatWatch:
    """The sums after one more tick."""
    open_since_s = _open_since_s(w, h)
    change = _change(w, h)
    if change is None:
        put_back_s = h.now_s if w.last_c is None and h.told_off and not h.running else w.put_back_s
        return HeatWatch(
            h.control_c, h.applied_fraction, h.applied_fraction, open_since_s=open_since_s, put_back_s=put_back_s
        )
    put_back_s = _put_back_s(w, h, change)
    settled = min(h.still_s, h.now_s - put_back_s) >= _settles_s(h)
    hot = h.recent_fraction >= HIGH_DUTY_FRACTION
    asked_step, asked_c = _asked(w, h)
    return HeatWatch(
        last_c=change.control_c,
        lag1=change.lag1,
        lag2=change.lag2,
        lack_c=_lack_c(w, h, change) if settled else 0.0,
        fast_c=max(w.fast_c + change.change_c - change.most_c, 0.0) if settled and hot and h.running else 0.0,
        stray_c=_stray_c(w, h, change, open_since_s) if settled and not hot else 0.0,
        same_c=_same_c(w, h, change),
        left_j=_left_j(w, h, change) if h.running else None,
        stage_begun_s=h.stage_begun_s,
        open_since_s=open_since_s,
        put_back_s=put_back_s,
        asked_step=asked_step,
        asked_c=asked_c,
    )


def _open_since_s(w: HeatWatch, h: Heating) -> float | None:
    if not h.told_off:
        return None
    return h.now_s if w.open_since_s is None else w.open_since_s


def _change(w: HeatWatch, h: Heating) -> Change | None:
    """None: there is nothing to compare, or nothing confirmed to reckon with."""
    kettle, (volume_l, _, _, grain_kg, _), control_c, dt_s = h.kettle, h.ledger, h.control_c, h.dt_s
    if control_c is None or not volume_l or w.last_c is None or not dt_s > 0.0:
        return None
    whole_j_per_k = WATER_J_PER_KG_K * volume_l + MALT_J_PER_KG_K * grain_kg
    gain = dt_s / (dt_s + 0.5 * (kettle.probe_delay_s + LACK_LAG_S))
    lag1 = w.lag1 + gain * (h.applied_fraction - w.lag1)
    lag2 = w.lag2 + gain * (lag1 - w.lag2)
    lost_w = kettle.loss_w_per_k * (control_c - h.ambient_c) + open_surface_w(kettle, control_c)
    lost = lost_w / kettle.heater_w
    return Change(
        control_c=control_c,
        change_c=control_c - w.last_c,
        whole_j_per_k=whole_j_per_k,
        lag1=lag1,
        lag2=lag2,
        lost=lost,
        net=lag2 - lost,
        whole_c=kettle.heater_w / whole_j_per_k * dt_s,
        most_c=_heated_c(h, volume_l, whole_j_per_k, h.recent_fraction) + _warmed_c(h, control_c, whole_j_per_k),
        near_boil=control_c > kettle.boil_c - NEAR_BOIL_C,
    )


def _settles_s(h: Heating) -> float:
    """How long liquid must have been left alone before it is judged."""
    if h.ledger.grain is NO_GRAIN or h.ledger.grain is GRAIN_AWAY:
        return SETTLES_S
    return OPEN_AFTER_S if h.told_off else SETTLES_WITH_GRAIN_S


def _put_back_s(w: HeatWatch, h: Heating, c: Change) -> float:
    """When the probe was last put back: a step that full power could not make, while the day stands still."""
    if not h.told_off or h.running or abs(c.change_c) < PUT_BACK_C * h.dt_s:
        return w.put_back_s
    full_c = _heated_c(h, h.ledger.volume_l or 0.0, c.whole_j_per_k, 1.0)
    return h.now_s if abs(c.change_c) > PUT_BACK_C * h.dt_s + full_c else w.put_back_s


def _asked(w: HeatWatch, h: Heating) -> tuple[int, float | None]:
    """In which step hands are at work, and what it read when that began."""
    if not h.pours:
        return w.asked_step, None
    if w.asked_c is None or w.asked_step != h.step_index:
        return h.step_index, h.control_c
    return w.asked_step, w.asked_c


def _heated_c(h: Heating, volume_l: float, whole_j_per_k: float, fraction: float) -> float:
    """The most that fraction of full power can raise what the probe sees in this tick."""
    seen_l = min(h.kettle.under_basket_l, volume_l) if h.ledger.grain is GRAIN_IN else 0.0
    seen_j_per_k = WATER_J_PER_KG_K * seen_l if seen_l else whole_j_per_k
    return MOST_SHARE * h.kettle.heater_w * fraction / seen_j_per_k * h.dt_s


def _warmed_c(h: Heating, control_c: float, whole_j_per_k: float) -> float:
    """The most that a warm room raises cold liquid in this tick."""
    room_c = max(h.ambient_c, WARM_ROOM_C)
    if control_c >= room_c:
        return 0.0
    return WARMS_SHARE * h.kettle.loss_w_per_k * (room_c - control_c) / whole_j_per_k * h.dt_s


def _lack_c(w: HeatWatch, h: Heating, c: Change) -> float:
    """Rise that is missing. Nothing is, where it is near its target or the boil, or fell of late."""
    arrives = h.target_c is not None and c.control_c > h.target_c - ARRIVES_C
    ends = (h.boils and c.near_boil) or arrives
    if not h.running or c.net < LACK_NET_FRACTION or ends or h.falling:
        return 0.0
    sure = max(LEAST_SHARE * c.lag2 - LOSSES_SHARE * c.lost, 0.0)
    return max(w.lack_c + c.whole_c * min(LACK_SHARE * c.net, sure) - c.change_c, 0.0)


def _stray_c(w: HeatWatch, h: Heating, c: Change, open_since_s: float | None) -> float:
    """Rise that no heater was told to make; near the boil, just told off, also a fall that is missing."""
    if open_since_s is not None and 0.0 <= h.now_s - open_since_s - OPEN_AFTER_S < h.dt_s:
        return 0.0  # judged anew: this now asks whether the main contactor opened
    beyond_c = c.change_c - c.most_c
    if c.near_boil and open_since_s is not None:
        beyond_c += FALLS_SHARE * h.kettle.loss_w_per_k * (c.control_c - h.ambient_c) / c.whole_j_per_k * h.dt_s
    share = STRAY_MASH_SHARE if h.ledger.grain is GRAIN_IN else 1.0
    stray_c = max(w.stray_c + share * beyond_c, 0.0)
    return stray_c + STRAY_GONE_C if w.stray_c < STRAY_C <= stray_c else stray_c


def _same_c(w: HeatWatch, h: Heating, c: Change) -> float:
    """Change that was expected of a reading that repeats itself."""
    if not h.running or abs(c.change_c) >= SAME_C:
        return 0.0
    # Once found it stays found: what is expected later does not make the probe alive.
    passes = (h.boils and c.near_boil) or abs(w.same_c) >= FROZEN_C
    return w.same_c if passes else w.same_c + c.whole_c * c.net


def _left_j(w: HeatWatch, h: Heating, c: Change) -> float | None:
    """What a running stage may still take: for its rise and its losses seven tenths more, and something for the bed."""
    if h.target_c is None:
        return None
    if w.left_j is None or h.moved or w.stage_begun_s != h.stage_begun_s:
        rise_c = max(h.target_c - c.control_c, 0.0)
        cold_j = WATER_J_PER_KG_K * h.poured_l * max(h.target_c - h.poured_c, 0.0)
        return BUDGET_J + (BUDGET_C + BUDGET_SHARE * rise_c) * c.whole_j_per_k + BUDGET_SHARE * cold_j
    return w.left_j + (BUDGET_SHARE * c.lost - h.applied_fraction) * h.kettle.heater_w * h.dt_s


def risen_c(w: HeatWatch, h: Heating) -> float:
    """How far it rose while hands are at work, beyond what is to be poured in, were that boiling."""
    if w.asked_c is None or h.control_c is None or not h.ledger.volume_l:
        return 0.0
    poured = h.poured_l / (h.ledger.volume_l + h.poured_l)
    return h.control_c - w.asked_c - poured * max(h.kettle.boil_c - w.asked_c, 0.0)


def open_surface_w(kettle: Kettle, liquid_c: float) -> float:
    """What leaves as vapour with the lid off."""
    growth = math.exp(OPEN_GROWTH_PER_C * (liquid_c - 66.0))
    return surface_m2(kettle, HEIGHT_PER_DIAMETER) * OPEN_W_PER_M2_AT_66_C * growth
