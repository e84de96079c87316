"""How much yeast a wort wants."""

from __future__ import annotations

ALE_MILLION_PER_ML_PLATO = 0.75
LAGER_MILLION_PER_ML_PLATO = 1.5
"""G. Fix, Analysis of Brewing Techniques, as quoted."""
DRY_BILLION_PER_G = 10.0
"""Live cells in a gram of dry yeast; makers promise 5 and more, counts find 6 to 20 (from memory)."""


def cells_billion(volume_l: float, plato: float, million_per_ml_plato: float) -> float:
    """Cells to pitch: per millilitre and degree Plato."""
    return million_per_ml_plato * volume_l * plato


def million_per_ml_plato(pitched_billion: float, volume_l: float, plato: float) -> float:
    """The rate that a pitch comes to: the inverse of `cells_billion`."""
    return pitched_billion / (volume_l * plato)


def dry_yeast_g(billion: float) -> float:
    """Dry yeast that holds so many cells."""
    return billion / DRY_BILLION_PER_G
