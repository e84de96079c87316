"""The day walked ahead: where time, liquid and litres will be, from now on, step by step. Coarse, and never fed back.

Two doubts are kept apart: what is doubtful about this kettle's heat makes every heat-up late by the same share, and
adds up; hands and detection are late each in its own way, and add up in squares.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from kettlebridge.brewing.day import ROOM_C
from kettlebridge.brewing.energy import cooled_c
from kettlebridge.brewing.surface import evaporation_w
from kettlebridge.brewing.vessel import surface_m2
from kettlebridge.brewing.water import WATER_J_PER_KG_K
from kettlebridge.core.bed import PACE
from kettlebridge.core.calls import CallKind
from kettlebridge.core.hands import COME_S, HANDS_SPREAD_FRACTION
from kettlebridge.core.heat import MALT_J_PER_KG_K, Contents, Rise, Way, reach_s
from kettlebridge.core.known import RATE_SPREAD, Known, beforehand, capacity_j_per_k, rise_by
from kettlebridge.core.ledger import Grain, Ledger
from kettlebridge.core.model_regulator import BOOST_C, BOOST_PER_C, ceiling_fraction
from kettlebridge.core.probes import control_memory, value_c
from kettlebridge.core.stage import StageState
from kettlebridge.core.state import State
from kettlebridge.core.steps.heating import BAND_C
from kettlebridge.model.forecast import Need, When
from kettlebridge.model.kettle import ProbeRole
from kettlebridge.model.plan import Plan

HEAT_SPREAD_FRACTION = 0.03
"""Of a heat-up, besides what is doubtful about the kettle: lid, mains, draught."""
HEAT_SPREAD_S = 20.0
BED_SPREAD_FRACTION = 0.15
LEAST_NET_FRACTION = 0.05
NEW_RATE_SPREAD, LEARNT_RATE_SPREAD = 0.08, 0.045
"""At most, of a kettle never heated and of one that was: identification supposes more doubt, so as to learn faster."""
LONGEST_S = 6 * 3600.0
"""What never gets there is called so long."""


@dataclass(slots=True)
class Walk:
    """A place in the day to come. `stage` is the stage in hand while the walk is in its step, else None."""

    plan: Plan
    state: State
    known: Known
    ambient_c: float
    index: int
    at_s: float
    liquid_c: float
    ledger: Ledger
    stage: StageState | None
    needs: list[Need] = field(default_factory=list)
    heats_from: When | None = None
    heat_spread_s: float = 0.0
    own_variance_s2: float = 0.0

    @property
    def when(self) -> When:
        """Where it is by then."""
        return When(at_s=self.at_s, spread_s=math.hypot(self.heat_spread_s, math.sqrt(self.own_variance_s2)))

    @property
    def contents(self) -> Contents:
        """What is in the kettle by then."""
        volume_l = self.ledger.volume_l or self.plan.profile.water.fill_l or self.plan.kettle.element_cover_l
        return Contents(volume_l=max(volume_l, 1.0), grain_kg=self.ledger.grain_kg)

    @property
    def rise(self) -> Rise:
        """How that warms."""
        return rise_by(self.known, self.plan.kettle, self.contents)

    @property
    def _rate_spread(self) -> float:
        learnt = self.known.rate_spread < RATE_SPREAD
        return min(self.known.rate_spread / self.known.rate_fraction, LEARNT_RATE_SPREAD if learnt else NEW_RATE_SPREAD)

    def wait(self, lasts_s: float, spread_s: float = 0.0) -> None:
        """Time passes; how long is not sure."""
        self.at_s += max(lasts_s, 0.0)
        self.own_variance_s2 += spread_s * spread_s

    def stand(self, lasts_s: float, spread_s: float = 0.0) -> None:
        """The same, with no heat: it cools."""
        capacity = capacity_j_per_k(self.contents)
        self.liquid_c = cooled_c(self.liquid_c, self.ambient_c, self.known.loss_w_per_k, capacity, max(lasts_s, 0.0))
        self.wait(lasts_s, spread_s)

    def heat(self, to_c: float, most_fraction: float = 1.0) -> None:
        """Up to a temperature."""
        lasts_s = self.heat_s(to_c, most_fraction)
        if lasts_s <= 0.0:
            return
        self.heat_spread_s += lasts_s * math.hypot(self._rate_spread, HEAT_SPREAD_FRACTION)
        self.wait(lasts_s, HEAT_SPREAD_S)
        self.liquid_c = to_c

    def heat_s(self, to_c: float, most_fraction: float = 1.0) -> float:
        """How long that takes."""
        way = Way(from_c=self.liquid_c, to_c=to_c, ambient_c=self.ambient_c)
        lasts_s = reach_s(self.rise, way, most_fraction)
        return LONGEST_S if lasts_s is None else min(lasts_s, LONGEST_S)

    def open_s(self, span_c: tuple[float, float], fraction: float) -> float:
        """How long near the boil with the lid off, from one temperature to another: vapour takes its share."""
        from_c, to_c = span_c
        kettle, middle_c = self.plan.kettle, (from_c + to_c) / 2.0
        lost_w = self.known.loss_w_per_k * (middle_c - self.ambient_c)
        lost_w += evaporation_w(surface_m2(kettle), middle_c, self.ambient_c, lid_on=False)
        full_w = self.known.rate_fraction * kettle.heater_w
        net_w = max(fraction * full_w - lost_w, LEAST_NET_FRACTION * full_w)
        return capacity_j_per_k(self.contents) * (to_c - from_c) / net_w

    def ramp(self, to_c: float, pumping: bool, most_fraction: float) -> None:
        """A mash up to within the band of a temperature. The bed follows the stream: power and flow both take time."""
        gap_c = to_c - BAND_C - self.liquid_c
        if gap_c <= 0.0:
            return
        power_s = self.heat_s(to_c, min(most_fraction, ceiling_fraction(self.ledger)))
        flow_s = self._flow_s(to_c) if pumping and self.ledger.grain is Grain.IN else 0.0
        lasts_s = (power_s**4 + flow_s**4) ** 0.25  # the slower one, a little more where both are slow
        self.heat_spread_s += power_s * self._rate_spread
        self.wait(lasts_s, HEAT_SPREAD_S + BED_SPREAD_FRACTION * lasts_s)
        self.liquid_c = to_c

    def _flow_s(self, to_c: float) -> float:
        """For the bed alone, behind a stream as warm as core.model_regulator lets it be."""
        kettle = self.plan.kettle
        capacity = capacity_j_per_k(self.contents) - WATER_J_PER_KG_K * kettle.under_basket_l
        stream_w_per_k = WATER_J_PER_KG_K * kettle.pump_l_per_min / 60.0
        if stream_w_per_k <= 0.0 or capacity <= 0.0:
            return 0.0
        gap_c, full_boost_c = to_c - self.liquid_c, BOOST_C / BOOST_PER_C
        parts = math.log(max(gap_c + BOOST_C, full_boost_c + BOOST_C) / (full_boost_c + BOOST_C))
        parts += math.log(max(min(gap_c, full_boost_c), BAND_C) / BAND_C) / (1.0 + BOOST_PER_C)
        return parts * capacity / (PACE * stream_w_per_k)

    def grain_in(self, grain_c: float) -> None:
        """The mash that strike water and grain make, before anything is lost."""
        water, grain = WATER_J_PER_KG_K * self.contents.volume_l, MALT_J_PER_KG_K * self.plan.profile.water.grain_kg
        self.liquid_c = (water * self.liquid_c + grain * grain_c) / (water + grain)

    def poured(self, volume_l: float, at_c: float) -> None:
        """Hot or cold water on top, before the ledger counts it."""
        here_l = self.ledger.volume_l or 0.0
        if here_l + volume_l > 0.0:
            self.liquid_c = (self.liquid_c * here_l + at_c * volume_l) / (here_l + volume_l)

    def need(self, kind: CallKind, subject: str = "", hands_s: float = COME_S, before_s: float = 0.0) -> None:
        """Somebody is needed here, or `before_s` earlier, but not before now."""
        here = self.when
        at_s = max(here.at_s - before_s, self.state.now_s)
        begins = When(at_s=at_s, spread_s=here.spread_s if at_s > self.state.now_s else 0.0)
        self.needs.append(Need(index=self.index, kind=kind.value, subject=subject, begins=begins, hands_s=hands_s))

    def hands(self, kind: CallKind, hands_s: float, subject: str = "") -> None:
        """Somebody is needed, and nothing goes on before they have done it."""
        self.need(kind, subject, hands_s)
        self.stand(hands_s, HANDS_SPREAD_FRACTION * hands_s)


def begun(plan: Plan, state: State) -> Walk:
    """Where the day is now."""
    probes = plan.kettle.probes
    ambient_c = value_c(probes, state.probes, ProbeRole.AMBIENT, ROOM_C)
    control_c = control_memory(probes, state.probes).good_c
    return Walk(
        plan=plan,
        state=state,
        known=state.thermal.known or beforehand(plan.kettle, plan.learnt),
        ambient_c=ambient_c,
        index=state.stage.step_index,
        at_s=state.now_s,
        liquid_c=_now_c(state, ambient_c if control_c is None else control_c),
        ledger=state.ledger,
        stage=state.stage,
    )


def _now_c(state: State, control_c: float) -> float:
    """What heats on from here: the mean that the probe lags behind, the bed in a mash."""
    estimate = state.thermal.estimate
    if estimate is None or not state.thermal.fits:
        return control_c
    if state.ledger.grain is Grain.IN:
        return state.thermal.bed.middle_c or control_c
    return estimate.zone_c
