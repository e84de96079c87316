"""Colour of beer from its malt, by Morey's fit; ±20 % at best, worse for very dark beer."""

from __future__ import annotations

EBC_PER_SRM = 1.968504
"""EBC = 25 A430, SRM = 12.7 A430 (ASBC Beer-10A)."""
LB_PER_GAL_PER_KG_PER_L = 8.345404


def srm(ebc: float) -> float:
    """SRM of a colour in EBC."""
    return ebc / EBC_PER_SRM


def ebc(of_srm: float) -> float:
    """EBC of a colour in SRM."""
    return of_srm * EBC_PER_SRM


def lovibond(malt_ebc: float) -> float:
    """Degrees Lovibond of a malt whose colour is given in EBC: SRM = 1.3546 L - 0.76 (from memory)."""
    return (srm(malt_ebc) + 0.76) / 1.3546


def malt_ebc(of_lovibond: float) -> float:
    """EBC of a malt whose colour is given in degrees Lovibond: the inverse of `lovibond`, not below 0."""
    return max(ebc(1.3546 * of_lovibond - 0.76), 0.0)


def mcu(kg_lovibond: float, volume_l: float) -> float:
    """Malt colour units: pounds x Lovibond / US gallons. `kg_lovibond` adds up kg x °L over the grist."""
    return LB_PER_GAL_PER_KG_PER_L * kg_lovibond / volume_l


def beer_srm(of_mcu: float) -> float:
    """SRM = 1.4922 MCU^0.6859, up to 50 SRM (D. Morey, brewingtechniques.com/brewingtechniques/beerslaw)."""
    return float(1.4922 * of_mcu**0.6859)
