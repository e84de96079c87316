"""The physical truth about one kettle: what it is built of, never what a kettle file says about it."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from enum import Enum

from kettlesim.plant import water

_BUOYANT_FACES = 1.9
"""The fractions of the liquid above each of the column's four faces, added up: full power must cross them."""


class Chill(Enum):
    """Where the wort is chilled."""

    IN_KETTLE = "in_kettle"
    IN_LINE = "in_line"


class Switch(Enum):
    """What switches the element; the plant takes a mean power, so only the boards care."""

    SSR = "ssr"
    CONTACTOR = "contactor"


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """One kettle with a lift-out grain basket. The defaults that do not scale with size are mid-range figures."""

    capacity_l: float
    """To the rim, everything in it."""
    diameter_m: float
    heater_w: float
    """At nominal mains."""
    under_basket_l: float
    """The liquid below the basket's floor, which is what the element heats in the mash."""
    dead_space_l: float
    """What the outlet at the bottom cannot draw."""
    element_cover_l: float
    """The liquid that just covers the element."""
    element_j_per_k: float
    element_w_per_k: float
    """From the covered element to the liquid."""
    wall_j_per_k: float
    wall_outside_w_per_k: float
    """From the wall to the room, radiation included."""
    wall_inside_w_per_k: float
    """From the wall to the liquid when full."""
    still_w_per_k: float
    """Between neighbouring layers of liquid, or cells of the bed, where nothing drives a current."""
    stratification_k: float
    """Bottom over top, heating at full power without the pump."""
    pump_l_per_min: float
    """At free flow."""
    probe_lag_s: float
    """Delay of a reading on a steady ramp: pocket and sensor, half each (`probes`)."""
    probe_stream_fraction: float
    """1: the control probe sits in the stream that leaves the bottom; less: it is mixed with the liquid above."""
    altitude_m: float = 0.0
    pressure_offset_pa: float = 0.0
    """What the weather adds to the mean pressure of the altitude."""
    boil_rise_k: float = 0.25
    """Boiling point above saturation at the surface's pressure: depth of liquid and superheat."""
    surface_w_per_m2k: float = 6.2
    """Heat transfer from the open surface at 47 K above the room; grows with the cube root of the difference."""
    lid_leak_fraction: float = 0.1
    """The evaporation that a lid lets through."""
    malt_j_per_kg_k: float = 1700.0
    slaking_j_per_kg: float = 15_000.0
    absorption_l_per_kg: float = 0.65
    """Apparent: (water in - wort collected)/kg of malt, both at 20 °C, once drained."""
    chill: Chill = Chill.IN_KETTLE
    chiller_w_per_k: float = 250.0
    switch: Switch = Switch.SSR
    foaminess: float = 1.0
    """How much foam the worts of this kettle's brewer make; 1 is usual."""
    pressure_pa: float = field(init=False)
    """Of the air over the kettle."""
    saturation_c: float = field(init=False)
    """At which water boils under that."""
    surface_m2: float = field(init=False)
    """Of the liquid, open or under the lid."""
    buoyant_w_per_k: float = field(init=False)
    """Between neighbouring layers of liquid that is warmer below: a column of this has its ``stratification_k``."""

    def __post_init__(self) -> None:
        """What follows from the figures, once and not every step."""
        pressure_pa = water.pressure_at_altitude_pa(self.altitude_m) + self.pressure_offset_pa
        object.__setattr__(self, "pressure_pa", pressure_pa)
        object.__setattr__(self, "saturation_c", water.saturation_temp_c(pressure_pa))
        object.__setattr__(self, "surface_m2", 0.25 * math.pi * self.diameter_m * self.diameter_m)
        buoyant_w_per_k = _BUOYANT_FACES * self.heater_w / self.stratification_k
        object.__setattr__(self, "buoyant_w_per_k", buoyant_w_per_k)

    @classmethod
    def from_figures(  # noqa: PLR0913
        cls,
        *,
        capacity_l: float,
        heater_w: float,
        altitude_m: float = 0.0,
        pump_l_per_min: float = 6.0,
        probe_lag_s: float = 12.0,
        chill: Chill = Chill.IN_KETTLE,
    ) -> Body:
        """A plausible stainless kettle with an immersed element; ``dataclasses.replace`` changes the rest."""
        under_basket_l = 0.125 * capacity_l
        return cls(
            capacity_l=capacity_l,
            diameter_m=(4.0 * capacity_l / 1000.0 / (1.1 * math.pi)) ** (1.0 / 3.0),  # 1.1 times as high as wide
            heater_w=heater_w,
            under_basket_l=under_basket_l,
            dead_space_l=0.02 * capacity_l,
            element_cover_l=0.6 * under_basket_l,
            element_j_per_k=0.15 * heater_w,
            element_w_per_k=heater_w / 42.0,
            wall_j_per_k=500.0 * (2.0 + 0.12 * capacity_l),  # 500 J/kg K, and about that many kg of steel
            wall_outside_w_per_k=8.0 * (capacity_l / 25.0) ** (2.0 / 3.0),
            wall_inside_w_per_k=150.0 * (capacity_l / 25.0) ** (2.0 / 3.0),
            still_w_per_k=25.0 * (capacity_l / 30.0) ** (2.0 / 3.0),
            stratification_k=1.5,
            pump_l_per_min=pump_l_per_min,
            probe_lag_s=probe_lag_s,
            probe_stream_fraction=1.0,
            altitude_m=altitude_m,
            chill=chill,
        )
