"""Wort before the boil that is not as planned, a hop that is late, and wort that went over the rim."""

from __future__ import annotations

from dataclasses import dataclass, replace

from kettlebridge.brewing.brew_sheet import Sheet
from kettlebridge.brewing.extract import plato_boiled_down, plato_of, sugar_to_raise_kg, water_to_thin_l
from kettlebridge.brewing.gravity import density_kg_per_l_at_20_c, extract_kg, plato, sg
from kettlebridge.brewing.hop_plan import hop_lines
from kettlebridge.brewing.rescue import Advice, Rescue
from kettlebridge.brewing.volumes import MIN_PER_H
from kettlebridge.model.recipe import Hop, HopUse

NEAR_SG = 0.001
"""Closer than this is within what a hydrometer can be read to (common practice, no source)."""
NEAR_L = 0.3
LEAST_MIN = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Course:
    """Wort at the end of the boil if it goes on as planned, and what a litre less of it costs in minutes."""

    end_l: float
    end_plato: float
    min_per_l: float


def wort_before_the_boil(sheet: Sheet, volume_l: float, found_sg: float) -> Rescue:
    """`volume_l` at 20 °C and gravity at 20 °C, measured before the boil. Raises ValueError: boils dry, or no wort."""
    course = _course(sheet, volume_l, found_sg)
    gravities, litres = sheet.gravities, sheet.litres
    collected = extract_kg(volume_l, plato(found_sg))
    planned = extract_kg(litres.pre_boil_l, gravities.pre_boil_plato)
    found = Advice(
        code="before_the_boil",
        values=(
            ("volume_l", volume_l),
            ("planned_l", litres.pre_boil_l),
            ("found_sg", found_sg),
            ("planned_sg", gravities.pre_boil_sg),
            ("efficiency_percent", 100.0 * sheet.recipe.efficiency_fraction * collected / planned),
        ),
    )
    off_sg = sg(course.end_plato) - gravities.original_sg
    if abs(off_sg) <= NEAR_SG and abs(course.end_l - litres.post_boil_l) <= NEAR_L:
        return Rescue(found=found, unmended=_unmended(sheet, course), mends=())
    mends = _strengthen(sheet, course)
    if off_sg > 0.0:
        water = _thin(sheet, course)
        mends = (*water, *_shorter(sheet, water[0].get("litres"), course))
    return Rescue(found=found, unmended=_unmended(sheet, course), mends=(*mends, *_both(sheet, course)))


def _course(sheet: Sheet, volume_l: float, found_sg: float) -> _Course:
    litres = sheet.litres
    end_l = litres.post_boil_l + volume_l - litres.pre_boil_l
    dissolved_kg = 0.0
    for each in sheet.recipe.dissolved:
        dissolved_kg += each.extract_kg
    if end_l <= 0.0:
        raise ValueError(f"{volume_l:g} L boil dry before the boil is over")
    end_plato = plato_of(extract_kg(volume_l, plato(found_sg)) + dissolved_kg, end_l)
    boil_off_l_per_h = litres.boil_off_l * MIN_PER_H / sheet.recipe.boil_min
    return _Course(end_l=end_l, end_plato=end_plato, min_per_l=MIN_PER_H / boil_off_l_per_h)


def _unmended(sheet: Sheet, course: _Course, hops: tuple[Hop, ...] | None = None) -> Advice:
    """The beer that comes of it; `hops` None: as planned."""
    end_sg = sg(course.end_plato)
    recipe = sheet.recipe if hops is None else replace(sheet.recipe, hops=hops)
    lines = hop_lines(recipe, sheet.kettle.boil_c, (sheet.gravities.pre_boil_sg + end_sg) / 2.0, course.end_l)
    bitterness_ibu = 0.0
    for line in lines:
        bitterness_ibu += line.bitterness_ibu
    return Advice(
        code="ends_as",
        values=(
            ("fermenter_l", sheet.litres.into_fermenter_l + course.end_l - sheet.litres.post_boil_l),
            ("original_sg", end_sg),
            ("planned_sg", sheet.gravities.original_sg),
            ("bitterness_ibu", bitterness_ibu),
            ("planned_ibu", sheet.bitterness_ibu),
        ),
    )


def _strengthen(sheet: Sheet, course: _Course) -> tuple[Advice, ...]:
    """Longer on the boil, or sugar."""
    wanted = sheet.gravities.post_boil_plato
    held_kg = extract_kg(course.end_l, course.end_plato)
    thick_l = held_kg / (density_kg_per_l_at_20_c(wanted) * wanted / 100.0)
    longer_min = (course.end_l - thick_l) * course.min_per_l
    sugar_g = 1000.0 * sugar_to_raise_kg(course.end_l, course.end_plato, wanted)
    kept_l = sheet.litres.into_fermenter_l + thick_l - sheet.litres.post_boil_l
    mends = []
    if longer_min >= LEAST_MIN and kept_l > 0.0:
        mends.append(Advice(code="boil_longer", values=(("minutes", longer_min), ("fermenter_l", kept_l))))
    if sugar_g > 0.0:
        mends.append(Advice(code="sugar", values=(("grams", sugar_g),)))
    return tuple(mends)


def _thin(sheet: Sheet, course: _Course) -> tuple[Advice, ...]:
    """Water to the planned gravity."""
    water_l = water_to_thin_l(course.end_l, course.end_plato, sheet.gravities.post_boil_plato)
    fermenter_l = sheet.litres.into_fermenter_l + course.end_l + water_l - sheet.litres.post_boil_l
    return (Advice(code="water", values=(("litres", water_l), ("fermenter_l", fermenter_l))),)


def _shorter(sheet: Sheet, water_l: float, course: _Course) -> tuple[Advice, ...]:
    """Less of the boil leaves `water_l` in; only before it has begun."""
    shorter_min = water_l * course.min_per_l
    if not LEAST_MIN <= shorter_min < sheet.recipe.boil_min:
        return ()
    return (Advice(code="boil_shorter", values=(("minutes", shorter_min),)),)


def _both(sheet: Sheet, course: _Course) -> tuple[Advice, ...]:
    """Water to the planned volume, sugar to the planned gravity."""
    water_l = sheet.litres.post_boil_l - course.end_l
    if water_l <= NEAR_L:
        return ()
    thinned = plato_boiled_down(course.end_l, course.end_plato, sheet.litres.post_boil_l)
    sugar_g = 1000.0 * sugar_to_raise_kg(sheet.litres.post_boil_l, thinned, sheet.gravities.post_boil_plato)
    if sugar_g <= 0.0:
        return ()
    return (Advice(code="water_and_sugar", values=(("litres", water_l), ("grams", sugar_g))),)


def late_hop(sheet: Sheet, name: str, left_min: float) -> Rescue:
    """The boil hop called `name` goes in only now, `left_min` before the end. Raises ValueError: no such hop, or early.

    A name that comes more than once means the earliest of it that is due.
    """
    there = [hop for hop in sheet.recipe.hops if hop.use in {HopUse.BOIL, HopUse.FIRST_WORT}]
    due = [hop for hop in there if hop.name.casefold() == name.casefold() and _planned_min(sheet, hop) > left_min]
    if not due:
        names = ", ".join(f"{hop.name} at {_planned_min(sheet, hop):g} min" for hop in there) or "none"
        raise ValueError(f"no hop {name} was due before {left_min:g} min; in the boil there is {names}")
    hop = max(due, key=lambda each: _planned_min(sheet, each))
    planned_min = _planned_min(sheet, hop)
    planned_ibu, late_ibu = _ibu(sheet, hop), _ibu(sheet, replace(hop, use=HopUse.BOIL, before_end_min=left_min))
    found = Advice(
        code="hop_late",
        values=(("late_min", planned_min - left_min), ("planned_min", planned_min), ("left_min", left_min)),
    )
    short_ibu = planned_ibu - late_ibu
    unmended = Advice(
        code="less_bitter",
        values=(("short_ibu", short_ibu), ("beer_ibu", sheet.bitterness_ibu - short_ibu)),
    )
    longer_min = planned_min - left_min
    lost_l = longer_min * sheet.litres.boil_off_l / sheet.recipe.boil_min
    mends = [Advice(code="boil_on", values=(("minutes", longer_min), ("litres", lost_l)))]
    if late_ibu > 0.0:
        more_g = hop.grams * (planned_ibu / late_ibu - 1.0)
        mends.insert(0, Advice(code="more_hops", values=(("grams", more_g), ("planned_g", hop.grams))))
    return Rescue(found=found, unmended=unmended, mends=tuple(mends))


def _planned_min(sheet: Sheet, hop: Hop) -> float:
    return sheet.recipe.boil_min if hop.use is HopUse.FIRST_WORT else hop.before_end_min or 0.0


def _ibu(sheet: Sheet, hop: Hop) -> float:
    """What that hop alone gives the planned wort."""
    mean_sg = (sheet.gravities.pre_boil_sg + sheet.gravities.original_sg) / 2.0
    alone = replace(sheet.recipe, hops=(hop,))
    return hop_lines(alone, sheet.kettle.boil_c, mean_sg, sheet.litres.post_boil_l)[0].bitterness_ibu


def boiled_over(sheet: Sheet, lost_l: float, left_min: float) -> Rescue:
    """`lost_l` litres of wort went over the rim `left_min` before the end. Raises ValueError: more than there was.

    What goes over takes its extract and its share of the hops so far with it; how much hop sticks to the wall above
    the wort nobody knows.
    """
    recipe, litres = sheet.recipe, sheet.litres
    later_kg = 0.0
    for each in recipe.dissolved:
        later_kg += each.extract_kg if (each.before_end_min or 0.0) < left_min else 0.0
    there_l = litres.post_boil_l + litres.boil_off_l * min(left_min / recipe.boil_min, 1.0)
    end_l = litres.post_boil_l - lost_l
    if end_l <= 0.0 or lost_l >= there_l:
        raise ValueError(f"{lost_l:g} L are more than there would be left")
    all_kg = extract_kg(litres.post_boil_l, sheet.gravities.post_boil_plato)
    kept_kg = all_kg - (all_kg - later_kg) * lost_l / there_l
    course = _Course(end_l=end_l, end_plato=plato_of(kept_kg, end_l), min_per_l=recipe.boil_min / litres.boil_off_l)
    found = Advice(code="went_over", values=(("lost_l", lost_l), ("left_min", left_min), ("there_l", there_l)))
    kept = 1.0 - lost_l / there_l
    hops = tuple(replace(hop, grams=hop.grams * kept) if _in_by(sheet, hop, left_min) else hop for hop in recipe.hops)
    return Rescue(
        found=found,
        unmended=_unmended(sheet, course, hops),
        mends=(*_thin(sheet, course), *_both(sheet, course)),
    )


def _in_by(sheet: Sheet, hop: Hop, left_min: float) -> bool:
    return hop.use in {HopUse.BOIL, HopUse.FIRST_WORT} and _planned_min(sheet, hop) >= left_min
