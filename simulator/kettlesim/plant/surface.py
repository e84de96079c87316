"""What the free surface loses: water vapour, and warmth to still air."""

from __future__ import annotations

import math

from kettlesim.plant import water
from kettlesim.plant.body import Body
from kettlesim.plant.state import PlantInputs

ROOM_HUMIDITY_FRACTION = 0.5
_REFERENCE_K = 47.0
"""The difference at which ``Body.surface_w_per_m2k`` holds."""
_AIR_J_PER_M3_K = 1057.0
"""Density times heat capacity of air at the mean temperature of the film, about 60 °C."""
_LEWIS_FACTOR = 0.9
"""Lewis number of vapour in air to the power 2/3: mass transfer is that much faster than heat transfer."""
_STEFAN_LIMIT = 1.3
"""Near the boil the logarithm runs away, while the vapour no longer diffuses but pushes the air aside."""
_LEAST_DIFFERENCE_K = 1.0


def losses(body: Body, surface_c: float, inputs: PlantInputs) -> tuple[float, float]:
    """Evaporation (kg/s) and sensible heat (W) from an open surface, or through the gap of a lid.

    Lewis analogy with natural convection, h ~ dT^(1/3), and Stefan's correction for one-sided diffusion. The vapour
    takes its latent heat besides. No condensation on a surface colder than the dew point.
    """
    ambient_c = inputs.ambient_c
    difference_k = surface_c - ambient_c
    h_w_per_m2k = body.surface_w_per_m2k * (max(difference_k, _LEAST_DIFFERENCE_K) / _REFERENCE_K) ** 0.333
    area_m2 = body.surface_m2
    near_pa = water.vapour_pressure_pa(surface_c)
    far_pa = ROOM_HUMIDITY_FRACTION * water.vapour_pressure_pa(ambient_c)
    convected_w = h_w_per_m2k * area_m2 * difference_k
    if near_pa <= far_pa:
        return 0.0, convected_w
    pressure_pa = body.pressure_pa
    room_pa = pressure_pa - near_pa
    stefan = _STEFAN_LIMIT
    if room_pa > 0.3 * pressure_pa:
        stefan = min(stefan, pressure_pa * math.log((pressure_pa - far_pa) / room_pa) / (near_pa - far_pa))
    rise = water.vapour_density_kg_per_m3(surface_c, near_pa) - water.vapour_density_kg_per_m3(ambient_c, far_pa)
    evaporated = h_w_per_m2k / (_AIR_J_PER_M3_K * _LEWIS_FACTOR) * rise * stefan * area_m2
    if inputs.lid_on:
        evaporated *= body.lid_leak_fraction
    return max(evaporated, 0.0), convected_w
