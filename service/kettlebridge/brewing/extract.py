"""From the sack to the wort: extract of malt and sugar, and the gravity that a volume of it has."""

from __future__ import annotations

from kettlebridge.brewing.gravity import HIGHEST_PLATO, density_kg_per_l_at_20_c, extract_kg

SOLVED_WITHIN_PLATO = 1e-9
EXTRACT_L_PER_KG = 0.62
"""Room that a kilogram of extract takes in solution: follows from the ASBC densities, 0.61 to 0.63 up to 25 °P."""


def potential_kg(as_weighed_kg: float, yield_dry_fraction: float, moisture_fraction: float) -> float:
    """Extract that malt could give: fine-grind yield on dry basis (ASBC Malt-4, EBC 4.5.1) of what is not moisture."""
    return as_weighed_kg * (1.0 - moisture_fraction) * yield_dry_fraction


def plato_of(extract_in_it_kg: float, volume_l: float) -> float:
    """Plato of `volume_l` that holds so much extract: density(P) x V x P/100 = E, solved by halving, 0 to 40 °P.

    Raises ValueError for more extract than 40 °P hold, and for no volume.
    """
    if volume_l <= 0.0 or extract_in_it_kg > extract_kg(volume_l, HIGHEST_PLATO):
        raise ValueError(f"{extract_in_it_kg:g} kg of extract do not go into {volume_l:g} L")
    low, high = 0.0, HIGHEST_PLATO
    while high - low > SOLVED_WITHIN_PLATO:
        middle = (low + high) / 2.0
        if extract_kg(volume_l, middle) < extract_in_it_kg:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0


def water_to_thin_l(volume_l: float, from_plato: float, to_plato: float) -> float:
    """Water that thins wort to a lower Plato, by mass; 0 where it is thin enough."""
    mass_kg = volume_l * density_kg_per_l_at_20_c(from_plato)
    return max(mass_kg * (from_plato / to_plato - 1.0) / density_kg_per_l_at_20_c(0.0), 0.0)


def sugar_to_raise_kg(volume_l: float, from_plato: float, to_plato: float) -> float:
    """Sucrose that raises wort to a higher Plato, by mass; 0 where it is strong enough."""
    mass_kg = volume_l * density_kg_per_l_at_20_c(from_plato)
    return max(mass_kg * (to_plato - from_plato) / (100.0 - to_plato), 0.0)


def highest_first_wort_plato(water_l_per_kg: float, yield_dry_fraction: float, moisture_fraction: float) -> float:
    """Plato of the wort in a mash whose extract has all dissolved; more than this no efficiency can give."""
    dissolved = potential_kg(1.0, yield_dry_fraction, moisture_fraction)
    liquid_kg = water_l_per_kg * density_kg_per_l_at_20_c(0.0) + moisture_fraction
    return 100.0 * dissolved / (dissolved + liquid_kg)
