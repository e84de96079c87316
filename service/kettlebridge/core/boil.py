"""Is it boiling? A plateau near the expected boiling point, found without knowing the altitude exactly."""

from __future__ import annotations

from kettlebridge.core.heat import Contents, loss_fraction, rise_c_per_s
from kettlebridge.core.stage import Scene
from kettlebridge.model.plan import BoilStep

UNDER_EXPECTED_C = 3.0
OVER_EXPECTED_C = 2.0
PLATEAU_SHARE = 0.12
SUSPECT_S = 30.0
RISEN_C = 1.0
WINDOW_S = 60.0
LEAST_RISE_C = 0.25
"""A minute that should bring less than this tells nothing: a probe's step is 0.0625 °C."""


def plateau(scene: Scene[BoilStep]) -> bool:
    """Whether the last minute rose by less than 12 % of what power and losses should have brought.

    A probe that has not followed the climb, or that repeats one value to the last digit, shows no plateau.
    """
    volume_l = scene.ledger.volume_l
    if scene.control_c is None or volume_l is None or not scene.trail.whole:
        return False
    kettle = scene.plan.kettle
    net_fraction = scene.duty_fraction - loss_fraction(kettle, scene.control_c, scene.ambient_c)
    expected_c = rise_c_per_s(kettle, Contents(volume_l=volume_l)) * net_fraction * WINDOW_S
    if expected_c < LEAST_RISE_C:
        return False
    followed = scene.stage.begun_c is not None and scene.control_c - scene.stage.begun_c >= RISEN_C
    values_c = scene.trail.values_c
    frozen = all(value_c == values_c[0] for value_c in values_c)
    return followed and not frozen and scene.trail.rise_c < PLATEAU_SHARE * expected_c


def near_expected(scene: Scene[BoilStep]) -> bool:
    """Whether the probe is where this kettle's boil is expected."""
    boil_c = scene.plan.kettle.boil_c
    return scene.control_c is not None and -UNDER_EXPECTED_C <= scene.control_c - boil_c <= OVER_EXPECTED_C
