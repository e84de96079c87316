"""The mash as a balance of heat: strike, infusions, direct heat, decoctions, and what mends a missed temperature."""

from __future__ import annotations

from dataclasses import dataclass

from kettlebridge.brewing.interpolation import looked_up
from kettlebridge.brewing.water import WATER_J_PER_KG_K, density_kg_per_l

GRAIN_ROOM_L_PER_KG = 0.67
"""Volume that a kilogram of malt takes up in the mash (common practice, no source)."""
BED_L_PER_KG = 2.5
"""Settled grain bed with the liquid in and between its grains, per kilogram (from memory)."""
STEEL_J_PER_KG_K = 500.0

_MOISTURE = (0.0, 0.01, 0.02, 0.03, 0.04, 0.06, 0.08)
_RELATIVE_HEAT = (0.38, 0.38, 0.39, 0.40, 0.40, 0.41, 0.42)
_SLAKING_J_PER_KG = (38_400.0, 35_900.0, 29_600.0, 24_500.0, 19_300.0, 16_800.0, 13_000.0)
"""Pauls & Whites, Brewing Room Book 1984/85 (murphyandson.co.uk, appendix 4): heat capacity of malt by moisture,
relative to water, and the heat of slaking that its rises at 2.68 L/kg imply. The row of 3 % is misprinted there; here
it is the mean of its neighbours."""
_WATER_KJ = 4.1868


@dataclass(frozen=True, slots=True, kw_only=True)
class Malt:
    """Grain before it is wet. `slaking_j_per_kg` is the heat that wetting sets free."""

    kg: float
    temp_c: float
    specific_heat_j_per_kg_k: float
    slaking_j_per_kg: float

    @property
    def capacity_j_per_k(self) -> float:
        """Heat capacity of all of it."""
        return self.kg * self.specific_heat_j_per_kg_k


@dataclass(frozen=True, slots=True, kw_only=True)
class Steel:
    """What warms with the mash or gives its warmth to it: the vessel, a cold basket."""

    capacity_j_per_k: float
    temp_c: float


NO_STEEL = Steel(capacity_j_per_k=0.0, temp_c=20.0)


def malt(kg: float, temp_c: float, moisture_fraction: float = 0.05) -> Malt:
    """Malt of a moisture of 0 to 8 %, with the figures of the table above between its rows."""
    return Malt(
        kg=kg,
        temp_c=temp_c,
        specific_heat_j_per_kg_k=1000.0 * _WATER_KJ * looked_up(_MOISTURE, _RELATIVE_HEAT, moisture_fraction),
        slaking_j_per_kg=looked_up(_MOISTURE, _SLAKING_J_PER_KG, moisture_fraction),
    )


def water_capacity_j_per_k(water_l: float) -> float:
    """Heat capacity of water measured at 20 °C."""
    return water_l * density_kg_per_l(20.0) * WATER_J_PER_KG_K


def strike_c(water_l: float, mash_c: float, grain: Malt, cold: Steel = NO_STEEL, warm_j_per_k: float = 0.0) -> float:
    """Temperature of the water that makes a mash of `mash_c`, losses aside. `warm_j_per_k`: steel as hot as the water.

    R. Barth, Strike Water Temperature, MBAA TQ 61(1) 2024, balances the same terms, heat of hydration included.
    """
    needed_j = grain.capacity_j_per_k * (mash_c - grain.temp_c) - grain.kg * grain.slaking_j_per_kg
    needed_j += cold.capacity_j_per_k * (mash_c - cold.temp_c)
    return mash_c + needed_j / (water_capacity_j_per_k(water_l) + warm_j_per_k)


def mash_capacity_j_per_k(water_l: float, grain: Malt) -> float:
    """Heat capacity of a mash without its vessel."""
    return water_capacity_j_per_k(water_l) + grain.capacity_j_per_k


def water_to_reach_l(mash_j_per_k: float, mash_c: float, wanted_c: float, water_c: float) -> float:
    """Litres of water at `water_c` that bring a mash to `wanted_c`: an infusion, or the mending of a missed strike.

    Raises ValueError where that water lies on the wrong side of `wanted_c`.
    """
    if (wanted_c - mash_c) * (water_c - wanted_c) < 0.0 or water_c == wanted_c:
        raise ValueError(f"water of {water_c:g} °C brings no mash from {mash_c:g} to {wanted_c:g} °C")
    return mash_j_per_k * (wanted_c - mash_c) / ((water_c - wanted_c) * water_capacity_j_per_k(1.0))


def heating_min(mash_j_per_k: float, from_c: float, to_c: float, net_w: float) -> float:
    """Minutes of direct heat; `net_w` is what the element gives less what is lost meanwhile, and must be above 0."""
    if net_w <= 0.0:
        raise ValueError("losses take all the heat")
    return max(mash_j_per_k * (to_c - from_c) / net_w / 60.0, 0.0)


def decoction_fraction(from_c: float, to_c: float, boil_c: float) -> float:
    """Share of all heat capacity to boil and return, taken as thick as the mash; a thick one needs 5 to 15 % more."""
    return (to_c - from_c) / (boil_c - from_c)


def mash_room_l(water_l: float, grain_kg: float) -> float:
    """Room that a mash takes in the kettle."""
    return water_l + GRAIN_ROOM_L_PER_KG * grain_kg


def bed_l(grain_kg: float) -> float:
    """Room that a wet grain bed takes in the basket."""
    return BED_L_PER_KG * grain_kg
