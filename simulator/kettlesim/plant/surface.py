"""What the free surface loses: water vapour, and warmth to still air."""

from __future__ import annotations

import math

from kettlesim.plant.body import Body
from kettlesim.plant.water import CELSIUS_ZERO_K, VAPOUR_GAS_CONSTANT_J_PER_KG_K, vapour_pressure_pa

ROOM_HUMIDITY_FRACTION = 0.5
_REFERENCE_K = 47.0
"""The difference at which ``Body.surface_w_per_m2k`` holds."""
_AIR_J_PER_M3_K = 1057.0
"""Density times heat capacity of air at the mean temperature of the film, about 60 °C."""
_LEWIS_FACTOR = 0.9
"""Lewis number of vapour in air to the power 2/3: mass transfer is that much faster than heat transfer."""
_STEFAN_LIMIT = 1.3
"""Near the boil the logarithm runs away, while the vapour no longer diffuses but pushes the air aside."""
_LEAST_AIR_FRACTION = 0.4
"""With less air than that at the surface the limit holds in any case."""
_LEAST_DIFFERENCE_K = 1.0
_KG_PER_W_K = 1.0 / (_AIR_J_PER_M3_K * _LEWIS_FACTOR * VAPOUR_GAS_CONSTANT_J_PER_KG_K)


def losses(body: Body, surface_c: float, ambient_c: float, lid_on: bool) -> tuple[float, float]:
    """Evaporation (kg/s) and sensible heat (W) from an open surface, or through the gap of a lid.

    Lewis analogy with natural convection, h ~ dT^(1/3), and Stefan's correction for one-sided diffusion. The vapour
    takes its latent heat besides. No condensation on a surface colder than the dew point.
    """
    difference_k = surface_c - ambient_c
    moved_k = difference_k if difference_k > _LEAST_DIFFERENCE_K else _LEAST_DIFFERENCE_K
    w_per_k = body.surface_w_per_m2k * body.surface_m2 * (moved_k / _REFERENCE_K) ** 0.333
    near_pa = vapour_pressure_pa(surface_c)
    far_pa = ROOM_HUMIDITY_FRACTION * vapour_pressure_pa(ambient_c)
    if near_pa <= far_pa:
        return 0.0, w_per_k * difference_k
    # Driven by the difference in vapour density, not pressure: the ideal gas at both temperatures.
    rise = near_pa / (surface_c + CELSIUS_ZERO_K) - far_pa / (ambient_c + CELSIUS_ZERO_K)
    stefan = _STEFAN_LIMIT
    pressure_pa = body.pressure_pa
    air_pa = pressure_pa - near_pa
    if air_pa > _LEAST_AIR_FRACTION * pressure_pa:
        stefan = min(stefan, pressure_pa * math.log((pressure_pa - far_pa) / air_pa) / (near_pa - far_pa))
    evaporated = w_per_k * _KG_PER_W_K * rise * stefan
    return evaporated * body.lid_leak_fraction if lid_on else evaporated, w_per_k * difference_k
