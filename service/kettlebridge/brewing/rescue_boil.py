"""Wort before the boil that is not as planned, a hop that is late, and wort that went over the rim."""

from __future__ import annotations

from dataclasses import replace

from kettlebridge.brewing.brew_sheet import Sheet
from kettlebridge.brewing.extract import EXTRACT_L_PER_KG
from kettlebridge.brewing.gravity import WATER_20_C_KG_PER_L, extract_kg, plato
from kettlebridge.brewing.hop_plan import hop_lines
from kettlebridge.brewing.outlook import Bitter, Standing
from kettlebridge.brewing.rescue import Advice, Rescue
from kettlebridge.brewing.rescue_choices import Wanted, choices, left_as_it_is
from kettlebridge.model.recipe import Fermentable, Hop, HopUse
from kettlebridge.model.units import MIN_PER_H

IN_THE_BOIL = frozenset({HopUse.BOIL, HopUse.FIRST_WORT})


def wort_before_the_boil(sheet: Sheet, volume_l: float, found_sg: float) -> Rescue:
    """`volume_l` at 20 °C and gravity at 20 °C, measured before the boil. Raises ValueError: boils dry, or no wort."""
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
    return _rescue(sheet, found, replace(_before_the_boil(sheet), volume_l=volume_l, extract_kg=collected), found_sg)


def _rescue(sheet: Sheet, found: Advice, standing: Standing, begun_sg: float) -> Rescue:
    wanted = Wanted(
        original_sg=sheet.gravities.original_sg,
        fermenter_l=sheet.litres.into_fermenter_l,
        bitterness_ibu=sheet.bitterness_ibu,
    )
    standing = replace(standing, begun_sg=begun_sg)
    return Rescue(found=found, unmended=left_as_it_is(standing, wanted), mends=choices(standing, wanted))


def _before_the_boil(sheet: Sheet) -> Standing:
    """As planned, about to be heated to the boil."""
    recipe, litres = sheet.recipe, sheet.litres
    dissolves_kg, dissolves_l = _dissolved(recipe.dissolved)
    waits = [hop.before_end_min or 0.0 for hop in recipe.hops if hop.use is HopUse.BOIL]
    waits += [each.before_end_min or 0.0 for each in recipe.dissolved]
    return Standing(
        volume_l=litres.pre_boil_l,
        extract_kg=extract_kg(litres.pre_boil_l, sheet.gravities.pre_boil_plato),
        begun_sg=sheet.gravities.pre_boil_sg,
        boil_c=sheet.kettle.boil_c,
        boil_left_min=recipe.boil_min,
        boil_off_l_per_h=litres.boil_off_l * MIN_PER_H / recipe.boil_min,
        kept_l=litres.post_boil_l - litres.into_fermenter_l,
        attenuation_fraction=recipe.yeast.attenuation_fraction,
        hops=tuple(
            Bitter(
                alpha_g=line.hop.grams * line.hop.alpha_fraction,
                minutes=line.boil_minutes,
                lies_in=line.hop.use is HopUse.FIRST_WORT,
            )
            for line in sheet.hops
        ),
        vapour_l=litres.climb_vapour_l,
        dissolves_kg=dissolves_kg,
        dissolves_l=dissolves_l,
        waits_min=max(waits, default=0.0),
    )


def _dissolved(those: tuple[Fermentable, ...]) -> tuple[float, float]:
    """Extract in them, and the room that they take."""
    in_kg, in_l = 0.0, 0.0
    for each in those:
        in_kg += each.extract_kg
        in_l += EXTRACT_L_PER_KG * each.extract_kg + each.kg * each.moisture_fraction / WATER_20_C_KG_PER_L
    return in_kg, in_l


def late_hop(sheet: Sheet, name: str, left_min: float) -> Rescue:
    """The boil hop called `name` goes in only now, `left_min` before the end. Raises ValueError: no such hop, or early.

    A name that comes more than once means the earliest of it that is due.
    """
    there = [hop for hop in sheet.recipe.hops if hop.use in IN_THE_BOIL]
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
    recipe, planned = sheet.recipe, _before_the_boil(sheet)
    left_min = min(left_min, recipe.boil_min)
    later_kg, later_l = _dissolved(tuple(e for e in recipe.dissolved if (e.before_end_min or 0.0) < left_min))
    there_l = sheet.litres.post_boil_l + planned.boil_off_l_per_h * left_min / MIN_PER_H - later_l
    if lost_l >= min(there_l, sheet.litres.post_boil_l):
        raise ValueError(f"{lost_l:g} L are more than there would be left")
    kept = 1.0 - lost_l / there_l
    standing = replace(
        planned,
        volume_l=there_l - lost_l,
        extract_kg=(planned.extract_kg + planned.dissolves_kg - later_kg) * kept,
        boil_left_min=left_min,
        vapour_l=0.0,
        dissolves_kg=later_kg,
        dissolves_l=later_l,
        waits_min=min(planned.waits_min, left_min),
        hops=_after_loss(sheet, left_min, kept),
    )
    found = Advice(code="went_over", values=(("lost_l", lost_l), ("left_min", left_min), ("there_l", there_l)))
    return _rescue(sheet, found, standing, planned.begun_sg)


def _after_loss(sheet: Sheet, left_min: float, kept: float) -> tuple[Bitter, ...]:
    """Hops that were in lost their share."""
    hops = []
    for line in sheet.hops:
        there = line.hop.use in IN_THE_BOIL and _planned_min(sheet, line.hop) >= left_min
        alpha_g = line.hop.grams * line.hop.alpha_fraction * (kept if there else 1.0)
        hops.append(Bitter(alpha_g=alpha_g, minutes=line.boil_minutes, lies_in=there))
    return tuple(hops)
