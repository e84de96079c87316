"""What a brewer reads off a scale or an instrument, as it counts in the sums: litres and gravities at 20 °C."""

from __future__ import annotations

from dataclasses import dataclass

from kettlebridge.brewing.gravity import hydrometer_corrected, sg
from kettlebridge.brewing.mash import GRAIN_ROOM_L_PER_KG
from kettlebridge.brewing.refractometer import brix_at_20_c, wort_plato
from kettlebridge.brewing.water import cold_litres

HYDROMETER, REFRACTOMETER, SCALE = "hydrometer", "refractometer", "scale"
"""By what it was read, in the record."""
HYDROMETER_C = (0.0, 60.0)
"""Hotter samples steam and crack glass: cool them first (common practice, no source)."""
HYDROMETER_SG = (0.98, 1.18)
REFRACTOMETER_BRIX = (0.0, 32.0)
"""The scales that are sold (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """What an instrument showed. `at_c` None: the instrument compensates for its temperature by itself."""

    value: float
    at_c: float | None


def by_hydrometer(read: Read) -> float:
    """Specific gravity 20/20 from a hydrometer made for 20 °C."""
    return read.value if read.at_c is None else hydrometer_corrected(read.value, read.at_c)


def by_refractometer(read: Read) -> float:
    """Specific gravity 20/20 of unfermented wort from degrees Brix; above 20 °C no correction is known here."""
    return sg(wort_plato(read.value if read.at_c is None else brix_at_20_c(read.value, read.at_c)))


def liquid_l(scale_l: float, at_c: float, grain_kg: float) -> float:
    """Litres at 20 °C that a scale shows at `at_c`, without the room of the grain in them; below 0 is nonsense read."""
    return cold_litres(scale_l - GRAIN_ROOM_L_PER_KG * grain_kg, at_c)
