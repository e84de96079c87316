"""What speaks against a sheet: each caution is a row of CAUTIONS, a code with the values that are its reason."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from kettlebridge.brewing.brew_sheet import RATES, Sheet
from kettlebridge.brewing.chilling import APPROACH_C
from kettlebridge.brewing.extract import highest_first_wort_plato
from kettlebridge.brewing.mash import bed_l
from kettlebridge.brewing.timetable import heat_can_boil
from kettlebridge.brewing.vessel import BOIL_COVER, ON_THE_BED_L
from kettlebridge.brewing.water import hot_litres
from kettlebridge.brewing.water_plan import LEAST_SPARGE_L
from kettlebridge.brewing.yeast import million_per_ml_plato
from kettlebridge.model.plan import HEAT_MAX_C, SPARGE_MAX_C, AdditionKind
from kettlebridge.model.recipe import AdditionUse
from kettlebridge.model.units import MIN_PER_H

HEAD_SPACE_FRACTION = 0.20
"""Free of the kettle at the hot break (from memory)."""
HOT_BREAK_MORE = 1.2
"""Times the usual boil-off: a hot break of more power takes its part (on the simulator)."""
RATIO_L_PER_KG = (2.2, 6.5)
"""Of a mash in a basket (common practice, no source)."""
ABSORPTION_L_PER_KG = (0.4, 1.3)
"""Outside it a mass balance of spent grain of 70 to 85 % moisture does not close (PMC7502439)."""
GIVES_BACK_PERCENT = (77.0, 88.0)
"""Of the mash's water, once the basket hangs: 80 to 85 is usual (common practice, no source), this is near it."""
CLEARED_MIN = (5.0, 15.0)
"""Before the end of the boil, finings and nutrient: about ten (common practice, no source)."""
CONVERSION_C = (60.0, 73.0)
CONVERSION_MIN = 30.0
"""Gelatinised from 61.4 to 64.5 °C (Rittenauer and others, Foods 10 (2021) 1733); beta-amylase is gone at about 70."""
STRIKE_MAX_C = 85.0
"""Hotter water scalds the grain it meets first (common practice, no source)."""
PITCH_SHORT_FRACTION = 0.9
SG_WITHIN = 0.003
RATIO_WITHIN_L_PER_KG = 0.05
IBU_WITHIN_FRACTION = 0.15
EBC_WITHIN_FRACTION = 0.25

Values = tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """`stops`: there is no such day in this kettle. `values` are (name, number); names carry their unit."""

    code: str
    stops: bool
    values: Values


def cautions(sheet: Sheet) -> tuple[Caution, ...]:
    """Everything that speaks against the sheet, what stops it first."""
    found = [
        Caution(code=row.code, stops=row.stops, values=values) for row in CAUTIONS for values in row.found_in(sheet)
    ]
    return tuple(sorted(found, key=lambda caution: not caution.stops))


def fits(sheet: Sheet) -> bool:
    """Whether nothing stops it."""
    return not any(caution.stops for caution in cautions(sheet))


def _mash_over_the_rim(sheet: Sheet) -> Iterator[Values]:
    for mark in sheet.marks:
        if mark.read_l > sheet.kettle.capacity_l:
            yield (("litres", mark.read_l), ("capacity_l", sheet.kettle.capacity_l))
            return


def _basket_too_full(sheet: Sheet) -> Iterator[Values]:
    basket_l = sheet.kettle.capacity_l - sheet.kettle.under_basket_l
    if bed_l(sheet.water.grain_kg) > basket_l:
        yield (("bed_l", bed_l(sheet.water.grain_kg)), ("basket_l", basket_l))


def _element_bare(sheet: Sheet) -> Iterator[Values]:
    """At its lowest: filled, under a wet bed that the pump pours on, or boiled down before any sugar is in."""
    cover_l = sheet.kettle.element_cover_l
    under_bed_l = sheet.water.fill_l - sheet.litres.absorbed_l - ON_THE_BED_L * sheet.kettle.has_pump
    boiled_l = HOT_BREAK_MORE * sheet.kettle.boil_off_l_per_h * sheet.recipe.boil_min / MIN_PER_H
    least_l = min(sheet.water.fill_l, under_bed_l, (sheet.litres.pre_boil_l - boiled_l) / BOIL_COVER)
    if least_l < cover_l:
        yield (("litres", least_l), ("element_cover_l", cover_l))


def _too_little_water_for_the_basket(sheet: Sheet) -> Iterator[Values]:
    """Grain above the liquid that stands under and around it stays dry."""
    ratio = sheet.water.litres_per_kg
    if ratio is not None and ratio < 1.0:
        yield (("litres_per_kg", ratio),)


def _no_head_space(sheet: Sheet) -> Iterator[Values]:
    hot_l = hot_litres(sheet.litres.pre_boil_l, sheet.kettle.boil_c)
    free = 1.0 - hot_l / sheet.kettle.capacity_l
    if 0.0 <= free < HEAD_SPACE_FRACTION:
        yield (("hot_l", hot_l), ("capacity_l", sheet.kettle.capacity_l), ("free_percent", 100.0 * free))


def _odd_ratio(sheet: Sheet) -> Iterator[Values]:
    ratio, (low, high) = sheet.water.litres_per_kg, RATIO_L_PER_KG
    if ratio is not None and not low <= ratio <= high:
        yield (("litres_per_kg", ratio), ("low_l_per_kg", low), ("high_l_per_kg", high))


def _thicker_than_wished(sheet: Sheet) -> Iterator[Values]:
    mash, ratio = sheet.recipe.mash, sheet.water.litres_per_kg
    if mash is None or ratio is None or sheet.water.sparge_l < LEAST_SPARGE_L:
        return
    if ratio < mash.water_l_per_kg - RATIO_WITHIN_L_PER_KG:
        yield (("litres_per_kg", ratio), ("wished_l_per_kg", mash.water_l_per_kg))


def _odd_absorption(sheet: Sheet) -> Iterator[Values]:
    found, (low, high) = sheet.kettle.grain_absorption_l_per_kg, ABSORPTION_L_PER_KG
    if sheet.water.grain_kg and not low <= found <= high:
        yield (("absorption_l_per_kg", found), ("low_l_per_kg", low), ("high_l_per_kg", high))


def _bed_gives_back_otherwise(sheet: Sheet) -> Iterator[Values]:
    """A thick mash, or one with much absorption, gives back less than is usual, a thin one more."""
    if not sheet.water.grain_kg:
        return
    share = 100.0 * (1.0 - sheet.litres.absorbed_l / sheet.water.mash_l)
    if not GIVES_BACK_PERCENT[0] <= share <= GIVES_BACK_PERCENT[1]:
        ratio = sheet.water.mash_l / sheet.water.grain_kg
        kept = sheet.kettle.grain_absorption_l_per_kg
        yield (("share_percent", share), ("litres_per_kg", ratio), ("absorption_l_per_kg", kept))


def _cleared_at_an_odd_time(sheet: Sheet) -> Iterator[Values]:
    for each in sheet.recipe.additions:
        clears = each.kind in {AdditionKind.FINING, AdditionKind.NUTRIENT} and each.use is AdditionUse.BOIL
        minutes = each.before_end_min or 0.0
        if clears and not CLEARED_MIN[0] <= minutes <= CLEARED_MIN[1]:
            yield (("minutes", minutes),)


def _little_conversion(sheet: Sheet) -> Iterator[Values]:
    if sheet.recipe.mash is None:
        return
    minutes = 0.0
    for rest in sheet.recipe.mash.rests:
        minutes += rest.for_min if CONVERSION_C[0] <= rest.at_c <= CONVERSION_C[1] else 0.0
    if minutes < CONVERSION_MIN:
        yield (("minutes", minutes), ("low_c", CONVERSION_C[0]), ("high_c", CONVERSION_C[1]))


def _mash_out_too_hot(sheet: Sheet) -> Iterator[Values]:
    if sheet.recipe.mash is not None and sheet.recipe.mash.rests[-1].at_c > SPARGE_MAX_C:
        yield (("at_c", sheet.recipe.mash.rests[-1].at_c), ("most_c", SPARGE_MAX_C))


def _strike_too_hot(sheet: Sheet) -> Iterator[Values]:
    if sheet.strike is not None and sheet.strike.water_c > STRIKE_MAX_C:
        yield (("strike_c", sheet.strike.water_c), ("most_c", STRIKE_MAX_C))


def _strike_out_of_reach(sheet: Sheet) -> Iterator[Values]:
    most_c = min(HEAT_MAX_C, sheet.kettle.boil_c - 1.0)
    if sheet.strike is not None and sheet.strike.water_c > most_c:
        yield (("strike_c", sheet.strike.water_c), ("most_c", most_c))


def _stand_over_the_boil(sheet: Sheet) -> Iterator[Values]:
    stand = sheet.recipe.stand
    if stand is not None and stand.at_c >= sheet.kettle.boil_c:
        yield (("stand_c", stand.at_c), ("boil_c", sheet.kettle.boil_c))


def _boil_off_beyond_heater(sheet: Sheet) -> Iterator[Values]:
    most = heat_can_boil(sheet.kettle, sheet.day)
    if sheet.kettle.boil_off_l_per_h > most:
        yield (("boil_off_l_per_h", sheet.kettle.boil_off_l_per_h), ("most_l_per_h", most))


def _cooling_water_too_warm(sheet: Sheet) -> Iterator[Values]:
    pitch_c = sheet.recipe.yeast.pitch_c
    if sheet.chilled_c > pitch_c:
        yield (("pitch_c", pitch_c), ("tap_c", sheet.day.tap_c), ("approach_c", APPROACH_C))


def _pitch_too_small(sheet: Sheet) -> Iterator[Values]:
    pitched = sheet.recipe.yeast.cells_billion
    if pitched is not None and pitched < PITCH_SHORT_FRACTION * sheet.cells_needed_billion:
        rate = million_per_ml_plato(pitched, sheet.recipe.batch_l, sheet.gravities.post_boil_plato)
        yield (
            ("billion", pitched),
            ("needed_billion", sheet.cells_needed_billion),
            ("rate", rate),
            ("needed_rate", RATES[sheet.recipe.yeast.kind]),
        )


def _stronger_than_a_first_wort(sheet: Sheet) -> Iterator[Values]:
    """Wort before the boil cannot be stronger than the mash's own when all is dissolved."""
    if not sheet.water.grain_kg:
        return
    ratio = sheet.water.mash_l / sheet.water.grain_kg
    extract, dry = 0.0, 0.0
    for each in sheet.recipe.mashed:
        extract += each.extract_kg
        dry += each.kg * (1.0 - each.moisture_fraction)
    strongest = highest_first_wort_plato(ratio, extract / dry, sheet.water.moisture_fraction)
    if sheet.gravities.pre_boil_plato > strongest:
        yield (("plato", sheet.gravities.pre_boil_plato), ("strongest_plato", strongest))


def _gravity_differs(sheet: Sheet) -> Iterator[Values]:
    wanted = sheet.recipe.targets.original_sg
    if wanted is not None and abs(wanted - sheet.gravities.original_sg) > SG_WITHIN:
        yield (("original_sg", sheet.gravities.original_sg), ("wanted_sg", wanted))


def _bitterness_differs(sheet: Sheet) -> Iterator[Values]:
    wanted = sheet.recipe.targets.bitterness_ibu
    if wanted is not None and abs(wanted - sheet.bitterness_ibu) > IBU_WITHIN_FRACTION * wanted:
        yield (("bitterness_ibu", sheet.bitterness_ibu), ("wanted_ibu", wanted))


def _colour_differs(sheet: Sheet) -> Iterator[Values]:
    wanted = sheet.recipe.targets.colour_ebc
    if wanted is not None and abs(wanted - sheet.colour_ebc) > EBC_WITHIN_FRACTION * wanted:
        yield (("colour_ebc", sheet.colour_ebc), ("wanted_ebc", wanted))


@dataclass(frozen=True, slots=True)
class Row:
    """A caution: its code, whether it stops the day, and what finds it."""

    code: str
    stops: bool
    found_in: Callable[[Sheet], Iterator[Values]]


CAUTIONS = (
    Row("over_the_rim", True, _mash_over_the_rim),
    Row("basket_too_full", True, _basket_too_full),
    Row("element_bare", True, _element_bare),
    Row("grain_dry", True, _too_little_water_for_the_basket),
    Row("strike_out_of_reach", True, _strike_out_of_reach),
    Row("stand_over_boil", True, _stand_over_the_boil),
    Row("stronger_than_mash", True, _stronger_than_a_first_wort),
    Row("no_head_space", False, _no_head_space),
    Row("odd_ratio", False, _odd_ratio),
    Row("thicker_than_wished", False, _thicker_than_wished),
    Row("odd_absorption", False, _odd_absorption),
    Row("gives_back", False, _bed_gives_back_otherwise),
    Row("little_conversion", False, _little_conversion),
    Row("mash_out_hot", False, _mash_out_too_hot),
    Row("strike_hot", False, _strike_too_hot),
    Row("cleared_at", False, _cleared_at_an_odd_time),
    Row("boil_off_beyond_heater", False, _boil_off_beyond_heater),
    Row("cooling_water_warm", False, _cooling_water_too_warm),
    Row("pitch_small", False, _pitch_too_small),
    Row("gravity_differs", False, _gravity_differs),
    Row("bitterness_differs", False, _bitterness_differs),
    Row("colour_differs", False, _colour_differs),
)
