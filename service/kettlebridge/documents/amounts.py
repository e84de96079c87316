"""Numbers as a brewer reads them: a unit each, and no more digits than mean something."""

from __future__ import annotations

from kettlebridge.model.units import S_PER_MIN

WHOLE_GRAMS = 10.0
KILOGRAM = 1.0


def degrees(value_c: float | None) -> str:
    """A temperature, to a tenth."""
    return "no temperature" if value_c is None else f"{value_c:.1f} °C"


def litres(volume_l: float) -> str:
    """A volume, to a tenth."""
    return f"{volume_l:.1f} L"


def weight(mass_kg: float) -> str:
    """A mass: grams under a kilogram, tenths of a gram under ten."""
    if mass_kg >= KILOGRAM:
        return f"{mass_kg:.1f} kg"
    grams = mass_kg * 1000.0
    return f"{grams:.0f} g" if grams >= WHOLE_GRAMS else f"{grams:.1f} g"


def duration(time_s: float) -> str:
    """A length of time: seconds under a minute, minutes under an hour, then hours and minutes."""
    if time_s < S_PER_MIN:
        return f"{time_s:.0f} s"
    minutes = round(time_s / S_PER_MIN)
    hours, rest = divmod(minutes, 60)
    if not hours:
        return f"{minutes} min"
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def energy(energy_kwh: float) -> str:
    """Electric energy, to a hundredth."""
    return f"{energy_kwh:.2f} kWh"
