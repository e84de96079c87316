"""Units of BeerJSON 1.0, each with what one of it is in the house's own unit."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from kettlebridge.brewing.colour import EBC_PER_SRM, malt_ebc
from kettlebridge.brewing.gravity import plato, sg

Convert = Callable[[float], float]

US_GALLON_L = 3.785411784
IMPERIAL_GALLON_L = 4.54609
POUND_G = 453.59237
SUCROSE_POTENTIAL_SG = 1.04617
"""ASBC density of 119.826 g/L."""


def _times(factor: float) -> Convert:
    return lambda value: value * factor


VOLUME_L: Mapping[str, Convert] = {
    "ml": _times(0.001),
    "l": _times(1.0),
    "tsp": _times(US_GALLON_L / 768.0),
    "tbsp": _times(US_GALLON_L / 256.0),
    "floz": _times(US_GALLON_L / 128.0),
    "cup": _times(US_GALLON_L / 16.0),
    "pt": _times(US_GALLON_L / 8.0),
    "qt": _times(US_GALLON_L / 4.0),
    "gal": _times(US_GALLON_L),
    "bbl": _times(US_GALLON_L * 31.0),
    "ifloz": _times(IMPERIAL_GALLON_L / 160.0),
    "ipt": _times(IMPERIAL_GALLON_L / 8.0),
    "iqt": _times(IMPERIAL_GALLON_L / 4.0),
    "igal": _times(IMPERIAL_GALLON_L),
    "ibbl": _times(IMPERIAL_GALLON_L * 36.0),
}
MASS_G: Mapping[str, Convert] = {
    "mg": _times(0.001),
    "g": _times(1.0),
    "kg": _times(1000.0),
    "lb": _times(POUND_G),
    "oz": _times(POUND_G / 16.0),
}
TEMPERATURE_C: Mapping[str, Convert] = {"C": _times(1.0), "F": lambda value: (value - 32.0) / 1.8}
TIME_MIN: Mapping[str, Convert] = {
    "sec": _times(1.0 / 60.0),
    "min": _times(1.0),
    "hr": _times(60.0),
    "day": _times(1440.0),
    "week": _times(10_080.0),
}
PERCENT: Mapping[str, Convert] = {"%": _times(1.0)}
MALT_COLOUR_EBC: Mapping[str, Convert] = {"EBC": _times(1.0), "Lovi": malt_ebc, "SRM": _times(EBC_PER_SRM)}
GRAVITY_SG: Mapping[str, Convert] = {"sg": _times(1.0), "plato": sg, "brix": sg}
BITTERNESS_IBU: Mapping[str, Convert] = {"IBUs": _times(1.0)}
CARBONATION_VOLUMES: Mapping[str, Convert] = {"vols": _times(1.0), "g/l": _times(1.0 / 1.976813)}
POTENTIAL_PERCENT: Mapping[str, Convert] = {
    "sg": lambda value: plato(value) / plato(SUCROSE_POTENTIAL_SG) * 100.0 if value > 1.0 else 0.0,
    "plato": lambda value: value / plato(SUCROSE_POTENTIAL_SG) * 100.0,
    "brix": lambda value: value / plato(SUCROSE_POTENTIAL_SG) * 100.0,
}
"""Extract yield of a potential: the gravity of a pound in a US gallon, against that of sucrose."""
