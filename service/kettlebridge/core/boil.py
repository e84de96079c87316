"""Is it boiling? A plateau near the expected boiling point, found without knowing the altitude exactly.

A liquid rests where it boils, and also where an open kettle's losses take all that a tapered heater gives. The two are
told apart by asking: while a plateau is suspected, the heater gives half of what it holds back. What boils stays; what
rises was short of power, and then the power at which it stood still is known to be what it loses.
"""

from __future__ import annotations

from kettlebridge.core.heat import Contents, loss_fraction, rise_c_per_s
from kettlebridge.core.stage import Scene, StageState
from kettlebridge.core.trail import Trail
from kettlebridge.model.kettle import HeaterDrive
from kettlebridge.model.plan import BoilStep

UNDER_EXPECTED_C = 3.0
OVER_EXPECTED_C = 2.0
PLATEAU_SHARE = 0.12
SUSPECT_S = {HeaterDrive.SSR: 45.0, HeaterDrive.CONTACTOR: 75.0}
"""Of more power on a plateau: by then layers and probe have passed on what it brings, a contactor in pulses.

Tuned on the simulator.
"""
DISPROVED_C = 0.15
"""Rise in a minute that ends a suspicion: six times the noise of the means that it is read from."""
RISEN_C = 1.0
WINDOW_S = 60.0
SAME_C = 1e-6
"""Means of one value may differ in their last digits; a probe's smallest step is 0.0625 °C."""
LEAST_RISE_C = 0.25
"""A minute that should bring less than this tells nothing: a probe's step is 0.0625 °C."""


def plateau(scene: Scene[BoilStep]) -> bool:
    """Whether the last minute rose by less than 12 % of what power and losses should have brought.

    The power is the least of that minute: a heater that was just switched on has not brought anything yet. A probe
    that has not followed the climb shows no plateau.
    """
    volume_l = scene.ledger.volume_l
    if scene.control_c is None or not volume_l or not scene.trail.whole:
        return False
    kettle = scene.plan.kettle
    net_fraction = scene.trail.least_duty_fraction - loss_fraction(kettle, scene.control_c, scene.ambient_c)
    expected_c = rise_c_per_s(kettle, Contents(volume_l=volume_l)) * net_fraction * WINDOW_S
    if expected_c < LEAST_RISE_C:
        return False
    followed = scene.stage.begun_c is not None and scene.control_c - scene.stage.begun_c >= RISEN_C
    return followed and scene.trail.rise_c < PLATEAU_SHARE * expected_c


def lost_fraction(scene: Scene[BoilStep]) -> float:
    """Share of full power that near the boil only replaces losses: by the file, or what a stall has shown."""
    by_file = loss_fraction(scene.plan.kettle, scene.plan.kettle.boil_c, scene.ambient_c)
    return max(by_file, scene.stage.stalled_fraction or 0.0)


def frozen(trail: Trail) -> bool:
    """Whether the probe repeats one value to the last digit: it may hang, and confirms nothing."""
    return max(trail.values_c) - min(trail.values_c) < SAME_C if trail.values_c else True


def near_expected(scene: Scene[BoilStep]) -> bool:
    """Whether the probe is where this kettle's boil is expected."""
    boil_c = scene.plan.kettle.boil_c
    return scene.control_c is not None and -UNDER_EXPECTED_C <= scene.control_c - boil_c <= OVER_EXPECTED_C


def watched(scene: Scene[BoilStep]) -> StageState:
    """The stage with a suspicion begun or disproved; what a disproved one shows of the losses is kept."""
    stage, trail = scene.stage, scene.trail
    if stage.suspect_since_s is None:
        return stage._replace(suspect_since_s=scene.now_s) if plateau(scene) else stage
    if trail.rise_c <= DISPROVED_C:
        return stage
    lost = max(stage.stalled_fraction or 0.0, trail.duties[0])
    return stage._replace(suspect_since_s=None, stalled_fraction=lost)


def plateau_seen(scene: Scene[BoilStep]) -> bool:
    """Whether a suspicion has lasted."""
    since_s = scene.stage.suspect_since_s
    return since_s is not None and scene.now_s - since_s >= SUSPECT_S[scene.plan.kettle.drive]
