"""Alpha acid turning bitter over the temperatures that a wort really had.

First order: M. G. Malowicki and T. H. Shellhammer, J. Agric. Food Chem. 53 (2005) 4434 (doi 10.1021/jf0481296),
measured from 90 to 130 °C at pH 5.2. Below 90 °C it is extrapolated.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import exp

from kettlebridge.brewing.water import CELSIUS_ZERO_K

REFERENCE_C = 100.0
"""Boil times of the trade are meant at about this temperature."""
_PIECE_C = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """Minutes over which the wort went evenly from one temperature to another."""

    minutes: float
    from_c: float
    to_c: float


def isomerising_per_min(at_c: float) -> float:
    """k1: alpha acid to iso-alpha acid."""
    return 7.9e11 * exp(-11858.0 / (at_c + CELSIUS_ZERO_K))


def boil_minutes(history: Iterable[Span]) -> float:
    """Minutes at 100 °C that isomerise as much as `history`: what a hop stand or a boil in the hills is worth."""
    minutes = 0.0
    for piece in _pieces(history):
        minutes += piece.minutes * isomerising_per_min(piece.from_c) / isomerising_per_min(REFERENCE_C)
    return minutes


def _pieces(history: Iterable[Span]) -> Iterable[Span]:
    """Pieces of one temperature each, no step above a kelvin."""
    for span in history:
        count = max(1, round(abs(span.to_c - span.from_c) / _PIECE_C))
        for nth in range(count):
            middle_c = span.from_c + (span.to_c - span.from_c) * (nth + 0.5) / count
            yield Span(minutes=span.minutes / count, from_c=middle_c, to_c=middle_c)
