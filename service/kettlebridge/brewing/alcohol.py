"""What fermentation makes of extract: Balling's relations.

OE: original extract; AE: apparent extract, what a hydrometer shows in beer; RE: real extract. All in per cent by mass.
Reviewed on 532 brews by Cutaia, Reid and Speers, J. Inst. Brew. 115 (2009) 318.
"""

from __future__ import annotations

from kettlebridge.brewing.gravity import apparent_plato, plato, sg

ETHANOL_SG = 0.7907


def real_extract(original_plato: float, apparent: float) -> float:
    """RE from OE and AE: (q OE + AE)/(1 + q), q = 0.22 + 0.001 OE (Balling, from memory)."""
    q = 0.22 + 0.001 * original_plato
    return (q * original_plato + apparent) / (1.0 + q)


def alcohol_by_mass(original_plato: float, real: float) -> float:
    """Per cent by mass: (OE - RE)/(2.0665 - 0.010665 OE) (Balling)."""
    return (original_plato - real) / (2.0665 - 0.010665 * original_plato)


def alcohol_by_volume(original_sg: float, final_sg: float) -> float:
    """Per cent by volume from gravities before and after."""
    original = plato(original_sg)
    real = real_extract(original, apparent_plato(final_sg))
    return alcohol_by_mass(original, real) * final_sg / ETHANOL_SG


def original_plato(alcohol_mass_percent: float, real: float) -> float:
    """OE of a finished beer: 100 (2.0665 A + RE)/(100 + 1.0665 A) (Balling)."""
    return 100.0 * (2.0665 * alcohol_mass_percent + real) / (100.0 + 1.0665 * alcohol_mass_percent)


def final_sg(original_sg: float, attenuation_fraction: float) -> float:
    """Gravity at which a yeast of this apparent attenuation leaves off."""
    return sg(plato(original_sg) * (1.0 - attenuation_fraction))


def attenuation_fraction(original_sg: float, at_sg: float) -> float:
    """Apparent attenuation: 1 - AE/OE."""
    return 1.0 - apparent_plato(at_sg) / plato(original_sg)
