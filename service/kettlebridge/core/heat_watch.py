"""Does what the probe says fit the heat that was given? Running sums that ask it, by nameplate and confirmed litres.

Each sum grows by how far the probe's change is from what can be explained, never falls below nothing, and begins anew
where liquid was moved: a cumulative sum (Page, Biometrika 41 (1954) 100), which finds a lasting deviation of a given
size about as soon as it can be found, and which a healthy day keeps near nothing. Nothing learnt goes into it.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import NamedTuple

from kettlebridge.core.heat import MALT_J_PER_KG_K, WATER_J_PER_KG_K
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


class HeatWatch(NamedTuple):
    """The sums, and what they need to remember.

    `lag1`, `lag2`: the heater's share of full power as the probe shows it. `lack_c`, `fast_c`, `stray_c`: rise that is
    missing, more than full power explains, more than a low duty explains. `same_c`: change that was expected since
    the reading last differed. `left_j`: energy left of what the stage may take; None where no target is held.
    `open_since_s`: since when heat is told off and the main contactor open. `put_back_s`: when it was last heard of
    anew, or seen to have been somewhere else, while the day stood still.
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

    @property
    def found(self) -> bool:
        """Whether any of them says so; the rules that act on it ask which, and where it counts."""
        _, _, _, lack_c, fast_c, stray_c, same_c, left_j, _, _, _ = self
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

    `moved`: liquid was moved in this tick, or is about to be; `still_s`: how long none was. `falling`: it fell of late
    by more than an idle heater explains. `running`: the batch runs, in a step that heats. `boils`: a boil step, whose
    rise ends. `target_c` None where none is held; `stage_begun_s` names the stage.
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
    falling: bool
    running: bool
    boils: bool
    target_c: float | None
    stage_begun_s: float
    now_s: float
    dt_s: float


def followed(w: HeatWatch, h: Heating) -> HeatWatch:
    """The sums after one more tick."""
    (
        kettle,
        (volume_l, _, grain, grain_kg, _),
        control_c,
        ambient_c,
        applied,
        recent_fraction,
        told_off,
        _,
        still_s,
        falling,
        running,
        boils,
        target_c,
        stage_begun_s,
        now_s,
        dt_s,
    ) = h
    last_c, lag1, lag2, was_lack_c, was_fast_c, _, was_same_c, _, _, open_since_s, put_back_s = w
    open_since_s = (now_s if open_since_s is None else open_since_s) if told_off else None
    if control_c is None or not volume_l or last_c is None or not dt_s > 0.0:
        back_s = now_s if last_c is None and told_off and not running else put_back_s
        return HeatWatch(control_c, applied, applied, open_since_s=open_since_s, put_back_s=back_s)
    change_c, power_w = control_c - last_c, kettle.heater_w
    whole_j_per_k = WATER_J_PER_KG_K * volume_l + MALT_J_PER_KG_K * grain_kg
    gain = dt_s / (dt_s + 0.5 * (kettle.probe_delay_s + LACK_LAG_S))
    lag1 += gain * (applied - lag1)
    lag2 += gain * (lag1 - lag2)
    lost_w = kettle.loss_w_per_k * (control_c - ambient_c) + open_surface_w(kettle, control_c)
    lost = lost_w / power_w
    net = lag2 - lost
    whole_c = power_w / whole_j_per_k * dt_s
    expected_c = whole_c * net
    near_boil = control_c > kettle.boil_c - NEAR_BOIL_C
    lack_c = fast_c = stray_c = 0.0
    if told_off and not running and not -PUT_BACK_C * dt_s < change_c < PUT_BACK_C * dt_s:
        full_c = _heated_c(h, volume_l, whole_j_per_k, 1.0)
        put_back_s = now_s if abs(change_c) > PUT_BACK_C * dt_s + full_c else put_back_s
    settles_s = SETTLES_S
    if grain is not NO_GRAIN and grain is not GRAIN_AWAY:
        settles_s = OPEN_AFTER_S if told_off else SETTLES_WITH_GRAIN_S
    if still_s >= settles_s and now_s - put_back_s >= settles_s:
        beyond_c = change_c - _most_c(h, control_c, volume_l, whole_j_per_k)
        if recent_fraction < HIGH_DUTY_FRACTION:
            stray_c = _stray_c(w, h, beyond_c, whole_j_per_k, open_since_s if near_boil else None)
        elif running:
            fast_c = max(was_fast_c + beyond_c, 0.0)
        arrives = target_c is not None and control_c > target_c - ARRIVES_C
        if running and net >= LACK_NET_FRACTION and not ((boils and near_boil) or arrives or falling):
            sure = max(LEAST_SHARE * lag2 - LOSSES_SHARE * lost, 0.0)
            lack_c = max(was_lack_c + whole_c * min(LACK_SHARE * net, sure) - change_c, 0.0)
        if open_since_s is not None and 0.0 <= now_s - open_since_s - OPEN_AFTER_S < dt_s:
            stray_c = 0.0  # judged anew: this now asks whether the main contactor opened
    same_c = 0.0
    if running and -SAME_C < change_c < SAME_C:
        # Once found it stays found: what is expected later does not make the probe alive.
        passes = (boils and near_boil) or abs(was_same_c) >= FROZEN_C
        same_c = was_same_c if passes else was_same_c + expected_c
    return HeatWatch(
        control_c,
        lag1,
        lag2,
        lack_c,
        fast_c,
        stray_c,
        same_c,
        _left_j(w, h, whole_j_per_k, BUDGET_SHARE * lost_w - applied * power_w) if running else None,
        stage_begun_s,
        open_since_s,
        put_back_s,
    )


def _most_c(h: Heating, control_c: float, volume_l: float, whole_j_per_k: float) -> float:
    """The most that it may rise in this tick: what the heater can make of it, and a warm room of cold liquid."""
    kettle = h.kettle
    most_c = _heated_c(h, volume_l, whole_j_per_k, h.recent_fraction)
    room_c = max(h.ambient_c, WARM_ROOM_C)
    if control_c < room_c:
        most_c += WARMS_SHARE * kettle.loss_w_per_k * (room_c - control_c) / whole_j_per_k * h.dt_s
    return most_c


def _heated_c(h: Heating, volume_l: float, whole_j_per_k: float, fraction: float) -> float:
    """The most that fraction of full power can raise what the probe sees in this tick."""
    seen_l = min(h.kettle.under_basket_l, volume_l) if h.ledger.grain is GRAIN_IN else 0.0
    seen_j_per_k = WATER_J_PER_KG_K * seen_l if seen_l else whole_j_per_k
    return MOST_SHARE * h.kettle.heater_w * fraction / seen_j_per_k * h.dt_s


def _stray_c(w: HeatWatch, h: Heating, beyond_c: float, whole_j_per_k: float, boil_ends_s: float | None) -> float:
    """The sum of what no heater was told to make. `boil_ends_s`: near the boil, since when it was told off."""
    if boil_ends_s is not None and h.control_c is not None:
        beyond_c += FALLS_SHARE * h.kettle.loss_w_per_k * (h.control_c - h.ambient_c) / whole_j_per_k * h.dt_s
    share = STRAY_MASH_SHARE if h.ledger.grain is GRAIN_IN else 1.0
    stray_c = max(w.stray_c + share * beyond_c, 0.0)
    return stray_c + STRAY_GONE_C if w.stray_c < STRAY_C <= stray_c else stray_c


def _left_j(w: HeatWatch, h: Heating, whole_j_per_k: float, gains_w: float) -> float | None:
    """What a running stage may still take: for its rise and its losses seven tenths more, and something for the bed."""
    if h.target_c is None or h.control_c is None:
        return None
    if w.left_j is None or h.moved or w.stage_begun_s != h.stage_begun_s:
        rise_c = max(h.target_c - h.control_c, 0.0)
        return BUDGET_J + (BUDGET_C + BUDGET_SHARE * rise_c) * whole_j_per_k
    return w.left_j + gains_w * h.dt_s


@lru_cache(maxsize=64)
def surface_m2(capacity_l: float) -> float:
    """The open surface of a kettle somewhat higher than wide."""
    diameter_m: float = (4.0 * capacity_l / (1000.0 * math.pi * HEIGHT_PER_DIAMETER)) ** (1.0 / 3.0)
    return 0.25 * math.pi * diameter_m * diameter_m


def open_surface_w(kettle: Kettle, liquid_c: float) -> float:
    """What leaves as vapour with the lid off."""
    growth = math.exp(OPEN_GROWTH_PER_C * (liquid_c - 66.0))
    return surface_m2(kettle.capacity_l) * OPEN_W_PER_M2_AT_66_C * growth
