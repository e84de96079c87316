"""What may be done about wort that will not come to what was aimed at, each with what comes of it; also to leave it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from kettlebridge.brewing.cautions import Values
from kettlebridge.brewing.extract import EXTRACT_L_PER_KG, plato_of, sugar_to_raise_kg, water_to_thin_l
from kettlebridge.brewing.gravity import density_kg_per_l_at_20_c, extract_kg, plato
from kettlebridge.brewing.outlook import Change, Ends, Standing, ends
from kettlebridge.brewing.rescue import Advice
from kettlebridge.model.units import G_PER_KG, MIN_PER_H

NEAR_SG = 0.001
"""Closer than this is within what a hydrometer can be read to (common practice, no source)."""
NEAR_L = 0.3
LEAST_MIN = 1.0
LONGEST_MIN = 120.0
"""More is no mending any more, it is another boil (common practice, no source)."""
DRY_EXTRACT_FRACTION = 0.95
"""Of dry malt extract, what is extract: 44 points of sugar's 46 (common practice, no source)."""
LITRE_DIGITS = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What the day was to come to; `bitterness_ibu` is shown, not mended."""

    original_sg: float
    fermenter_l: float
    bitterness_ibu: float


def left_as_it_is(standing: Standing, wanted: Wanted) -> Advice:
    """What comes of it if nothing is done. Raises ValueError: it boils dry."""
    planned = (
        ("planned_l", wanted.fermenter_l),
        ("planned_sg", wanted.original_sg),
        ("planned_ibu", wanted.bitterness_ibu),
    )
    return Advice(code="ends_as", values=(*_comes(ends(standing)), *planned))


def choices(standing: Standing, wanted: Wanted) -> tuple[Advice, ...]:
    """The least trouble first; none where it is near enough. What is offered is rounded as hands can do it."""
    end = ends(standing)
    off_sg = end.original_sg - wanted.original_sg
    if abs(off_sg) <= NEAR_SG and abs(end.fermenter_l - wanted.fermenter_l) <= NEAR_L:
        return ()
    offered = _weaker_than_wanted(standing, wanted, end) if off_sg < 0.0 else _stronger(standing, wanted, end)
    return (*offered, *_both(standing, wanted, end))


def _weaker_than_wanted(standing: Standing, wanted: Wanted, end: Ends) -> tuple[Advice, ...]:
    aim = plato(wanted.original_sg)
    thick_l = end.extract_kg / (density_kg_per_l_at_20_c(aim) * aim / 100.0)
    longer_min = round((end.end_l - thick_l) * MIN_PER_H / standing.boil_off_l_per_h)
    extract = sugar_to_raise_kg(end.end_l, plato_of(end.extract_kg, end.end_l), aim)
    offered = []
    if LEAST_MIN <= longer_min <= LONGEST_MIN and standing.boil_left_min > 0.0 and thick_l > standing.kept_l:
        offered.append(_offer(standing, Change(minutes=longer_min), ("minutes", float(longer_min)), code="boil_longer"))
    if round(G_PER_KG * extract) > 0:
        offered += [_dissolved(standing, extract, 1.0), _dissolved(standing, extract, DRY_EXTRACT_FRACTION)]
    return tuple(offered)


def _dissolved(standing: Standing, extract: float, share: float) -> Advice:
    """`extract` by sugar, or by dry malt extract of which `share` is extract; to the gram that is weighed."""
    grams = float(round(G_PER_KG * extract / share))
    code = "sugar" if share == 1.0 else "malt_extract"
    return _offer(standing, Change(extract_kg=share * grams / G_PER_KG), ("grams", grams), code=code)


def _stronger(standing: Standing, wanted: Wanted, end: Ends) -> tuple[Advice, ...]:
    """Water, or as much of it left in by a shorter boil as may be cut off before something is to go in."""
    water_l = water_to_thin_l(end.end_l, plato_of(end.extract_kg, end.end_l), plato(wanted.original_sg))
    litres = round(water_l, LITRE_DIGITS)
    offered = []
    if litres > 0.0:
        offered.append(_offer(standing, Change(water_l=litres), ("litres", litres), code="water"))
    free_min = standing.boil_left_min - standing.waits_min
    shorter_min = min(round(water_l * MIN_PER_H / standing.boil_off_l_per_h), math.floor(free_min))
    if shorter_min >= LEAST_MIN:
        offered.append(
            _offer(standing, Change(minutes=-shorter_min), ("minutes", float(shorter_min)), code="boil_shorter")
        )
    return tuple(offered)


def _both(standing: Standing, wanted: Wanted, end: Ends) -> tuple[Advice, ...]:
    """Water to the volume and sugar to the gravity that were wanted; the sugar's own room is part of the volume."""
    full_l = wanted.fermenter_l + standing.kept_l
    extract = extract_kg(full_l, plato(wanted.original_sg)) - end.extract_kg
    litres = round(full_l - end.end_l - EXTRACT_L_PER_KG * extract, LITRE_DIGITS)
    grams = float(round(G_PER_KG * extract))
    if litres <= NEAR_L or grams <= 0.0:
        return ()
    change = Change(water_l=litres, extract_kg=grams / G_PER_KG)
    return (_offer(standing, change, ("litres", litres), ("grams", grams), code="water_and_sugar"),)


def _offer(standing: Standing, change: Change, *does: tuple[str, float], code: str) -> Advice:
    return Advice(code=code, values=(*does, *_comes(ends(standing, change))))


def _comes(end: Ends) -> Values:
    bitter = () if end.bitterness_ibu is None else (("bitterness_ibu", end.bitterness_ibu),)
    return (
        ("fermenter_l", end.fermenter_l),
        ("original_sg", end.original_sg),
        ("final_sg", end.final_sg),
        ("alcohol_percent", end.alcohol_percent),
        *bitter,
    )
