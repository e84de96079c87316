"""Hop by hop, what each adds to the bitterness of one recipe in one kettle."""

from __future__ import annotations

from dataclasses import dataclass

from kettlebridge.brewing.bitterness import ibu, utilisation
from kettlebridge.brewing.isomerisation import Span, boil_minutes
from kettlebridge.model.recipe import Hop, HopUse, Recipe

FALL_MIN = 3.0
"""From the boil to the stand, with the chiller running (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HopLine:
    """`boil_minutes` at 100 °C that its hot time is worth; 0 for hops that are not counted."""

    hop: Hop
    boil_minutes: float
    bitterness_ibu: float


def hop_lines(recipe: Recipe, boil_c: float, wort_sg: float, volume_l: float) -> tuple[HopLine, ...]:
    """Tinseth's fit, with each hop's minutes counted by temperature: less at altitude, some in the stand.

    `wort_sg`: mean of the boil; `volume_l`: at its end, at 20 °C.
    """
    lines = []
    for hop in recipe.hops:
        minutes = boil_minutes(_history(hop, recipe, boil_c))
        bitter = ibu(hop.grams, hop.alpha_fraction, volume_l, utilisation(wort_sg, minutes))
        lines.append(HopLine(hop=hop, boil_minutes=minutes, bitterness_ibu=bitter))
    return tuple(lines)


def _history(hop: Hop, recipe: Recipe, boil_c: float) -> tuple[Span, ...]:
    """The hot time of a hop: its part of the boil, the fall to the stand, its part of the stand."""
    stand = recipe.stand
    before_end_min = hop.before_end_min or 0.0
    if hop.use is HopUse.STAND and stand is not None:
        return (Span(minutes=before_end_min, from_c=stand.at_c, to_c=stand.at_c),)
    if hop.use not in {HopUse.BOIL, HopUse.FIRST_WORT}:
        return ()
    boil_min = recipe.boil_min if hop.use is HopUse.FIRST_WORT else before_end_min
    boil = Span(minutes=boil_min, from_c=boil_c, to_c=boil_c)
    if stand is None:
        return (boil,)
    stand_c = min(stand.at_c, boil_c)
    return (
        boil,
        Span(minutes=FALL_MIN, from_c=boil_c, to_c=stand_c),
        Span(minutes=stand.for_min, from_c=stand_c, to_c=stand_c),
    )
