"""The perfect-information bound: the law with the true state, true figures, and no lag, noise or rounding before it.

Nothing that reads a probe can do better by tuning; what is left is the element's own heat and the relay.
"""

from __future__ import annotations

from kettlebridge.core.ledger import Grain
from kettlebridge.core.relay_window import CLOSED, SPARING, switch
from kettlebridge.simulated.family.course import PERIOD_S, Seen
from kettlesim.plant.layout import node_capacities
from kettlesim.world import World

TC_S = 10.0
LOSS_TAU_S = 60.0
BOOST_C = 1.5
BOOST_PER_C = 0.5
HALF_WAY = 0.55
OFFSET_TAU_S = 400.0
NEAR_C = 1.0


class Perfect:
    """Sees where every joule is, and holds the bulk, or the bed while the pump runs."""

    def __init__(self) -> None:
        self._window = CLOSED
        self._loss_w: float | None = None
        self._stored_j: float | None = None
        self._offset_c = 0.0

    def permille(self, seen: Seen) -> int:
        """The duty that puts in what is missing, through the same relay window as everybody's."""
        world = seen.world
        self._follow_losses(world, seen.applied_fraction)
        target_c, duty_fraction = seen.wish.target_c, 0.0
        if target_c is not None:
            mash = seen.ledger.grain is Grain.IN and seen.pumping
            wanted_w = self._mash_w(world, target_c) if mash else self._water_w(world, target_c)
            full_w = world.body.heater_w * world.mains_fraction
            duty_fraction = min(max(wanted_w / full_w, 0.0), 1.0)
        pulses = SPARING[seen.member.kettle.drive]
        self._window, permille = switch(self._window, duty_fraction, pulses, seen.now_s, PERIOD_S)
        return permille

    def _follow_losses(self, world: World, applied_fraction: float) -> None:
        """What the liquid loses, from what it was given and what it gained."""
        nodes = node_capacities(world.body, world.plant)
        heat = world.plant.heat
        stored_j = sum(part * temp for part, temp in zip(nodes, heat[2:7], strict=True))
        stored_j += world.body.element_j_per_k * heat.element_c
        if self._stored_j is not None:
            given_w = world.body.heater_w * world.mains_fraction * applied_fraction
            loss_w = given_w - (stored_j - self._stored_j) / PERIOD_S
            if self._loss_w is None or abs(loss_w - self._loss_w) > world.body.heater_w:
                self._loss_w = min(max(loss_w, 0.0), world.body.heater_w)
            else:
                self._loss_w += (loss_w - self._loss_w) * PERIOD_S / LOSS_TAU_S
        self._stored_j = stored_j

    def _water_w(self, world: World, target_c: float) -> float:
        """Everything at the target, with what the element holds already on its way."""
        nodes = node_capacities(world.body, world.plant)
        truth = world.truth()
        capacity_j_per_k = sum(nodes)
        coming_j = world.body.element_j_per_k * (truth.element_c - truth.bottom_c)
        missing_j = capacity_j_per_k * (target_c - truth.bulk_c) - coming_j
        return (self._loss_w or 0.0) + missing_j / TC_S

    def _mash_w(self, world: World, target_c: float) -> float:
        """The stream that leaves the zone as warm as the bed needs it."""
        truth = world.truth()
        stream_w_per_k = max(4186.0 * world.plant.matter.pump_l_per_min / 60.0, 1.0)
        lost_c = (self._loss_w or 0.0) / stream_w_per_k
        short_c = target_c - truth.bed_c
        if abs(short_c) < NEAR_C:
            self._offset_c += short_c * PERIOD_S / OFFSET_TAU_S
        stream_c = target_c + HALF_WAY * lost_c + self._offset_c
        stream_c += min(max(BOOST_PER_C * short_c, 0.0), BOOST_C)
        passing_w = stream_w_per_k * (truth.bottom_c - world.plant.heat.low_c)
        coming_j = world.body.element_j_per_k * (truth.element_c - truth.bottom_c)
        bottom_j_per_k = node_capacities(world.body, world.plant)[4]
        return passing_w + (bottom_j_per_k * (stream_c - truth.bottom_c) - coming_j) / TC_S
