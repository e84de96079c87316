"""Refractometers: what one drop says, as long as there is no alcohol in it."""

from __future__ import annotations

from kettlebridge.brewing.interpolation import between

WORT_DIVISOR = 1.04
"""Wort bends light a little more than sugar of the same Plato; from memory, measure your own with a hydrometer."""

_AT_C = (5.0, 10.0, 15.0, 20.0)
_AT_BRIX = (10.0, 15.0, 20.0)
_TO_ADD = ((-0.82, -0.87, -0.92), (-0.59, -0.62, -0.65), (-0.32, -0.33, -0.34), (0.0, 0.0, 0.0))
"""Degrees Brix to add to a reading: OIV-MA-AS2-02, as reprinted (yumpu.com 12038601)."""


def brix_at_20_c(read_brix: float, at_c: float) -> float:
    """A reading without automatic compensation, 5 to 20 °C; outside the table its edge is taken."""
    row, down = between(_AT_C, at_c)
    column, right = between(_AT_BRIX, read_brix)
    upper = _TO_ADD[row][column] * (1.0 - right) + _TO_ADD[row][column + 1] * right
    lower = _TO_ADD[row + 1][column] * (1.0 - right) + _TO_ADD[row + 1][column + 1] * right
    return read_brix + upper * (1.0 - down) + lower * down


def wort_plato(read_brix: float, divisor: float = WORT_DIVISOR) -> float:
    """Plato of unfermented wort; worthless once yeast has made alcohol."""
    return read_brix / divisor
