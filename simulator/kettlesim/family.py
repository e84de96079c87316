"""A family of kettles to test a controller against: every physical figure drawn over its plausible range."""

from __future__ import annotations

import random
from dataclasses import replace

from kettlesim.plant.body import Body, Chill, Switch


def drawn_body(rng: random.Random) -> Body:
    """A kettle from 10 to 60 L and 1.5 to 5.5 kW, anywhere from sea level to 2500 m in any weather.

    Power grows with size, as in shops: 60-140 W per litre of capacity, within those limits.
    """
    capacity_l = rng.uniform(10.0, 60.0)
    heater_w = min(max(capacity_l * rng.uniform(60.0, 140.0), 1500.0), 5500.0)
    usual = Body.from_figures(
        capacity_l=capacity_l,
        heater_w=heater_w,
        altitude_m=rng.uniform(0.0, 2500.0),
        pump_l_per_min=rng.uniform(2.0, 8.0),
        probe_lag_s=rng.uniform(5.0, 30.0),
        chill=rng.choice((Chill.IN_KETTLE, Chill.IN_LINE)),
    )
    under_basket_l = capacity_l * rng.uniform(0.09, 0.18)
    base_plate = rng.random() < 0.4
    return replace(
        usual,
        diameter_m=usual.diameter_m * rng.uniform(0.92, 1.08),
        under_basket_l=under_basket_l,
        dead_space_l=capacity_l * rng.uniform(0.01, 0.03),
        element_cover_l=under_basket_l * rng.uniform(0.4, 0.7),
        element_j_per_k=heater_w * (rng.uniform(0.3, 0.6) if base_plate else rng.uniform(0.1, 0.2)),
        element_w_per_k=heater_w / rng.uniform(25.0, 60.0),
        wall_outside_w_per_k=usual.wall_outside_w_per_k * rng.uniform(5.0, 12.0) / 8.0,
        stratification_k=rng.uniform(0.5, 2.5),
        probe_stream_fraction=rng.uniform(0.6, 1.0),
        pressure_offset_pa=rng.uniform(-3000.0, 3000.0),
        boil_rise_k=rng.uniform(0.1, 0.4),
        surface_w_per_m2k=usual.surface_w_per_m2k * rng.uniform(0.8, 1.3),
        lid_leak_fraction=rng.uniform(0.05, 0.15),
        malt_j_per_kg_k=rng.uniform(1550.0, 1850.0),
        slaking_j_per_kg=rng.uniform(8000.0, 22_000.0),
        absorption_l_per_kg=rng.uniform(0.5, 0.9),
        chiller_w_per_k=usual.chiller_w_per_k * rng.uniform(0.6, 1.4),
        switch=rng.choice((Switch.SSR, Switch.CONTACTOR)),
        foaminess=rng.uniform(0.5, 1.5),
    )
