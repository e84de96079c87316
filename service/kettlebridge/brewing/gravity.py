"""Degrees Plato, specific gravity 20/20 and the density of wort: three ways to say how much is dissolved."""

from __future__ import annotations

from kettlebridge.brewing.water import density_kg_per_l

WATER_20_C_KG_PER_L = 0.998207
AIR_KG_PER_L = 0.0012
HIGHEST_PLATO = 40.0
_NEWTON_ROUNDS = 4


def plato(sg: float) -> float:
    """Plato of wort from its apparent specific gravity 20/20 (weighed in air), 1.000 to 1.18; never below 0."""
    return max(apparent_plato(sg), 0.0)


def sg(of_plato: float) -> float:
    """Specific gravity 20/20 of 0 to 40 °P: the inverse of `plato`, by Newton's rule to 1e-9."""
    found = 1.0 + of_plato / (258.6 - 0.87955 * of_plato)
    for _ in range(_NEWTON_ROUNDS):
        value = apparent_plato(found) - of_plato
        slope = 407.991 * found**2 - 1260.544 * found + 1111.14
        found -= value / slope
    return max(found, 1.0)


def apparent_plato(sg_of_beer: float) -> float:
    """Plato that a hydrometer shows, below 0 where alcohol makes beer lighter than water.

    ASBC polynomial, as printed at liquisearch.com/brix/tables; it gives -0.003 for water.
    """
    return 135.997 * sg_of_beer**3 - 630.272 * sg_of_beer**2 + 1111.14 * sg_of_beer - 616.868


def density_kg_per_l_at_20_c(of_plato: float) -> float:
    """True density at 20 °C: the apparent specific gravity, freed of the buoyancy of air."""
    return sg(of_plato) * (WATER_20_C_KG_PER_L - AIR_KG_PER_L) + AIR_KG_PER_L


def extract_kg(volume_l: float, of_plato: float) -> float:
    """Extract dissolved in wort: Plato is per cent by mass."""
    return volume_l * density_kg_per_l_at_20_c(of_plato) * of_plato / 100.0


def hydrometer_corrected(read_sg: float, at_c: float, calibrated_c: float = 20.0) -> float:
    """A hydrometer read at `at_c`, as at `calibrated_c`; wort is taken to expand like water, glass not at all.

    Agrees to 1.4e-4 with the table at wiki.americanhomebrewers.org/HydrometerTemperatureAdjustmentTable.
    """
    return read_sg * density_kg_per_l(calibrated_c) / density_kg_per_l(at_c)
