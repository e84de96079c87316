"""Does what the probe says fit the heat that was given? Running sums that ask it, by nameplate and confirmed litres.

Each sum grows by how far the probe's change is from what can be explained, never falls below nothing, and begins anew
where liquid was moved: a cumulative sum (Page, Biometrika 41 (1954) 100), which finds a lasting deviation of a given
size about as soon as it can be found, and which a healthy day keeps near nothing. Nothing learnt goes into it.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from kettlebridge.core.heat import WATER_J_PER_KG_K, Contents
from kettlebridge.core.ledger import Grain, Ledger
from kettlebridge.model.kettle import Kettle

SETTLES_S = 60.0
SETTLES_WITH_GRAIN_S = 180.0
"""So long after liquid was moved nothing is judged by temperature; grain lets it through slowly."""
LACK_SHARE = 0.4
LACK_NET_FRACTION = 0.5
LACK_C = 0.4 * 1.5
"""Less than 40 % of the expected rise, over 1.5 °C of it, where half of full power is left after losses."""
ARRIVES_C = 1.0
"""So near its target a rise may end."""
LACK_LAG_S = 15.0
"""Beyond the file's delay: a pocket without paste."""
MOST_SHARE = 1.45
"""Full power into what was confirmed explains no more: mains 10 % high are 1.21, litres 15 % short are 1.18."""
FAST_C = 2.0
STRAY_C = 1.0
HEAT_LEFT_S = 40.0
"""How long an element goes on giving heat, and a probe goes on showing it, as a decay time."""
HIGH_DUTY_FRACTION = 0.5
OPEN_AFTER_S = 120.0
FALLS_SHARE = 0.3
FALLS_ABOVE_C = 45.0
"""With heat told off a hot kettle falls by at least that share of its losses by the file."""
SAME_C = 1e-6
FROZEN_C = 2.0
NEAR_BOIL_C = 4.0
"""So far under the expected boil, in a boil step, a rise may end: weather, altitude and steam have their share."""
BUDGET_SHARE = 1.5
BUDGET_J = 0.36e6
BUDGET_C = 2.0
OPEN_W_PER_M2_AT_66_C = 2700.0
OPEN_GROWTH_PER_C = 0.0425
"""An open tank of hot water: 2.7 kW/m2 at 66 °C, 8.5 at 93 (tables of tank heat losses, no single source)."""
HEIGHT_PER_DIAMETER = 1.1


class HeatWatch(NamedTuple):
    """The sums, and what they need to remember.

    `lag1`, `lag2`: the heater's share of full power as the probe shows it. `recent_fraction`: what it may still show of
    the highest one lately. `lack_c`, `fast_c`, `stray_c`: rise that is missing, more than full power explains, more
    than a low duty explains. `same_c`: change that was expected since the reading last differed. `left_j`: energy left
    of what the stage may take; None where no target is held. `moved_s`: when liquid was last moved. `open_since_s`:
    since when heat is told off and the main contactor open.
    """

    last_c: float | None = None
    lag1: float = 0.0
    lag2: float = 0.0
    recent_fraction: float = 0.0
    lack_c: float = 0.0
    fast_c: float = 0.0
    stray_c: float = 0.0
    same_c: float = 0.0
    left_j: float | None = None
    stage_begun_s: float = 0.0
    moved_s: float = -1e9
    open_since_s: float | None = None
    pumping: bool = False


UNWATCHED = HeatWatch()
BASKET_HANGS = frozenset({Grain.IN, Grain.LIFTED})


class Heating(NamedTuple):
    """What a tick knows of the heat. `applied_fraction` is the board's word.

    `moved`: liquid was moved in this tick, or is about to be. `falling`: it fell of late by more than an idle heater
    explains. `running`: the batch runs, in a step that heats. `boils`: a boil step, whose rise ends. `target_c` None
    where none is held; `stage_begun_s` names the stage.
    """

    kettle: Kettle
    ledger: Ledger
    control_c: float | None
    ambient_c: float
    applied_fraction: float
    told_off: bool
    pumping: bool
    moved: bool
    falling: bool
    running: bool
    boils: bool
    target_c: float | None
    stage_begun_s: float
    now_s: float
    dt_s: float


def followed(w: HeatWatch, h: Heating) -> HeatWatch:
    """The sums after one more tick."""
    control_c, volume_l, kettle, dt_s = h.control_c, h.ledger.volume_l, h.kettle, h.dt_s
    moved_s = h.now_s if h.moved or h.pumping != w.pumping else w.moved_s
    open_since_s = (h.now_s if w.open_since_s is None else w.open_since_s) if h.told_off else None
    applied = h.applied_fraction
    if control_c is None or not volume_l or w.last_c is None or not dt_s > 0.0:
        return HeatWatch(
            control_c, applied, applied, applied, moved_s=moved_s, open_since_s=open_since_s, pumping=h.pumping
        )
    change_c, power_w = control_c - w.last_c, kettle.heater_w
    whole_j_per_k = Contents(volume_l, h.ledger.grain_kg).capacity_j_per_k
    rate = power_w / whole_j_per_k
    mash = h.ledger.grain is Grain.IN
    seen_rate = power_w / (WATER_J_PER_KG_K * min(kettle.under_basket_l, volume_l)) if mash else rate
    gain = dt_s / (dt_s + 0.5 * (kettle.probe_delay_s + LACK_LAG_S))
    lag1 = w.lag1 + gain * (applied - w.lag1)
    lag2 = w.lag2 + gain * (lag1 - w.lag2)
    recent = max(applied, w.recent_fraction * (1.0 - min(dt_s / HEAT_LEFT_S, 1.0)))
    lost_w = kettle.loss_w_per_k * (control_c - h.ambient_c) + open_surface_w(kettle, control_c)
    net = lag2 - lost_w / power_w
    expected_c = rate * net * dt_s
    near_boil = h.boils and control_c > kettle.boil_c - NEAR_BOIL_C
    lack_c = fast_c = stray_c = same_c = 0.0
    if h.now_s - moved_s >= (SETTLES_WITH_GRAIN_S if h.ledger.grain in BASKET_HANGS else SETTLES_S):
        beyond_c = change_c - MOST_SHARE * seen_rate * recent * dt_s
        if open_since_s is not None and control_c > FALLS_ABOVE_C:
            beyond_c += FALLS_SHARE * kettle.loss_w_per_k * (control_c - h.ambient_c) / whole_j_per_k * dt_s
        if recent < HIGH_DUTY_FRACTION:
            judged_anew = open_since_s is not None and 0.0 <= h.now_s - open_since_s - OPEN_AFTER_S < dt_s
            stray_c = 0.0 if judged_anew else max(w.stray_c + beyond_c, 0.0)
        elif h.running:
            fast_c = max(w.fast_c + beyond_c, 0.0)
        arrives = h.target_c is not None and control_c > h.target_c - ARRIVES_C
        if h.running and net >= LACK_NET_FRACTION and not (near_boil or arrives or h.falling):
            lack_c = max(w.lack_c + LACK_SHARE * expected_c - change_c, 0.0)
    if h.running and -SAME_C < change_c < SAME_C:
        # Once found it stays found: what is expected later does not make the probe alive.
        same_c = w.same_c if near_boil or abs(w.same_c) >= FROZEN_C else w.same_c + expected_c
    return HeatWatch(
        control_c,
        lag1,
        lag2,
        recent,
        lack_c,
        fast_c,
        stray_c,
        same_c,
        _left_j(w, h, whole_j_per_k, BUDGET_SHARE * lost_w - applied * power_w),
        h.stage_begun_s,
        moved_s,
        open_since_s,
        h.pumping,
    )


def _left_j(w: HeatWatch, h: Heating, whole_j_per_k: float, gains_w: float) -> float | None:
    """What the stage may still take: for its rise and its losses half as much again, and something for the bed."""
    if h.target_c is None or h.control_c is None or not h.running:
        return None
    if w.left_j is None or h.moved or w.stage_begun_s != h.stage_begun_s:
        rise_c = max(h.target_c - h.control_c, 0.0)
        return BUDGET_J + (BUDGET_C + BUDGET_SHARE * rise_c) * whole_j_per_k
    return w.left_j + gains_w * h.dt_s


def open_surface_w(kettle: Kettle, liquid_c: float) -> float:
    """What leaves as vapour with the lid off, for a kettle somewhat higher than wide."""
    diameter_m: float = (4.0 * kettle.capacity_l / (1000.0 * math.pi * HEIGHT_PER_DIAMETER)) ** (1.0 / 3.0)
    growth = math.exp(OPEN_GROWTH_PER_C * (liquid_c - 66.0))
    return 0.25 * math.pi * diameter_m * diameter_m * OPEN_W_PER_M2_AT_66_C * growth
