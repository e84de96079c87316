"""What an open surface of hot liquid loses to still air by evaporation."""

from __future__ import annotations

from kettlebridge.brewing.water import CELSIUS_ZERO_K, latent_heat_kj_per_kg, vapour_pressure_pa

ROOM_HUMIDITY_FRACTION = 0.5
HOTTEST_FITTED_C = 94.0
"""Above it the equation runs away: hotter liquid counts as this."""
LID_LEAK_FRACTION = 0.1
"""The evaporation that a lid lets through (estimate)."""
_AIR_GAS_J_PER_KG_K = 287.05
_VAPOUR_RATIO = 0.622


def evaporated_kg_per_m2_h(liquid_c: float, room_c: float, pressure_pa: float = 101_325.0) -> float:
    """M. M. Shah's equation for undisturbed pools, E = 35 rho_w (rho_r - rho_w)^(1/3) (W_w - W_r); ±30 %, 7 to 94 °C.

    Constants from memory; recommended over eleven correlations (concordia.ca/~raojw/crd, 002507). 0 where the liquid is
    so cold that nothing rises.
    """
    liquid_c = min(liquid_c, HOTTEST_FITTED_C)
    near_pa = vapour_pressure_pa(liquid_c)
    far_pa = ROOM_HUMIDITY_FRACTION * vapour_pressure_pa(room_c)
    w_near, w_far = _humidity(near_pa, pressure_pa), _humidity(far_pa, pressure_pa)
    rho_near = _air_kg_per_m3(liquid_c, near_pa, pressure_pa)
    rise = _air_kg_per_m3(room_c, far_pa, pressure_pa) - rho_near
    if rise <= 0.0 or w_near <= w_far:
        return 0.0
    return float(35.0 * rho_near * rise ** (1.0 / 3.0) * (w_near - w_far))


def evaporation_w(surface_m2: float, liquid_c: float, room_c: float, *, lid_on: bool) -> float:
    """Heat that evaporation takes from a surface, lid on or off."""
    open_w = surface_m2 * evaporated_kg_per_m2_h(liquid_c, room_c) * latent_heat_kj_per_kg(liquid_c) / 3.6
    return open_w * LID_LEAK_FRACTION if lid_on else open_w


def _humidity(vapour_pa: float, pressure_pa: float) -> float:
    """Kilograms of vapour per kilogram of dry air."""
    return _VAPOUR_RATIO * vapour_pa / (pressure_pa - vapour_pa)


def _air_kg_per_m3(at_c: float, vapour_pa: float, pressure_pa: float) -> float:
    """Dry air in a cubic metre of moist air; Shah's densities are those of dry air."""
    return (pressure_pa - vapour_pa) / (_AIR_GAS_J_PER_KG_K * (at_c + CELSIUS_ZERO_K))
