"""A mash that landed hot or cold, and one through which no wort runs."""

from __future__ import annotations

from kettlebridge.brewing.brew_sheet import Sheet
from kettlebridge.brewing.mash import decoction_fraction, heating_min, mash_room_l, water_to_reach_l
from kettlebridge.brewing.rescue import Advice, Rescue
from kettlebridge.brewing.timetable import RAMP_SHARE
from kettlebridge.brewing.vessel import covered_loss_w_per_k, steel_j_per_k
from kettlebridge.brewing.water import hot_litres
from kettlebridge.brewing.water_plan import RIM_FRACTION, mash_j_per_k
from kettlebridge.model.units import S_PER_MIN

NEAR_C = 0.5
"""Closer than this nothing needs mending: stirring alone moves a mash as much (common practice, no source)."""
BETA_GONE_C = 70.0
"""Beta-amylase is gone within a rest at about 70 °C (common practice, no source)."""
GELATINISED_C = 61.4
"""Barley starch begins to gelatinise: Rittenauer and others, Foods 10 (2021) 1733."""
LOOSE_L_PER_KG = 4.0
"""Water to grain at which a mash seldom sticks (common practice, no source)."""
HULLS_KG_PER_KG = 0.05
"""Rice hulls to the kilogram of grain (common practice, no source)."""
MOST_DECOCTED = 0.5
"""Of the mash: its enzymes are in what is not boiled (common practice, no source)."""
SETTLE_MIN = 10.0
"""How long a stirred bed lies before the pump draws through it again (common practice, no source)."""


def missed_dough_in(sheet: Sheet, found_c: float, hot_water_c: float | None = None) -> Rescue:
    """The stirred mash stands at `found_c`. `hot_water_c` None: boiling water.

    Raises ValueError for a recipe without a mash.
    """
    if sheet.recipe.mash is None:
        raise ValueError("this recipe has no mash")
    wanted_c = sheet.recipe.mash.rests[0].at_c
    found = Advice(code="mash_missed", values=(("found_c", found_c), ("wanted_c", wanted_c)))
    if abs(found_c - wanted_c) <= NEAR_C:
        return Rescue(found=found, unmended=Advice(code="near_enough", values=(("within_c", NEAR_C),)), mends=())
    water_c = sheet.day.tap_c
    if found_c < wanted_c:
        water_c = sheet.kettle.boil_c if hot_water_c is None else hot_water_c
    mends = (
        *_heat(sheet, found_c, wanted_c),
        _water(sheet, found_c, wanted_c, water_c),
        *_decoction(sheet, found_c, wanted_c),
    )
    return Rescue(found=found, unmended=_left_as_it_is(sheet, found_c, wanted_c), mends=mends)


def _heat(sheet: Sheet, found_c: float, wanted_c: float) -> tuple[Advice, ...]:
    """The element, with the pump or a spoon; a mash that is hot has none."""
    lost_w = covered_loss_w_per_k(sheet.kettle, wanted_c, sheet.day.room_c) * (wanted_c - sheet.day.room_c)
    net_w = RAMP_SHARE * sheet.kettle.heater_w - lost_w
    if found_c >= wanted_c or net_w <= 0.0:
        return ()
    minutes = heating_min(mash_j_per_k(sheet.water, sheet.kettle), found_c, wanted_c, net_w)
    code = "heat_pumped" if sheet.kettle.has_pump else "heat_stirred"
    return (Advice(code=code, values=(("minutes", minutes), ("wanted_c", wanted_c))),)


def _water(sheet: Sheet, found_c: float, wanted_c: float, water_c: float) -> Advice:
    """Litres stirred in, off the sparge where there is one; or that the kettle has no room for them."""
    mash = mash_j_per_k(sheet.water, sheet.kettle)
    litres = water_to_reach_l(mash, found_c, wanted_c, water_c)
    room_l = _room_l(sheet, wanted_c)
    if litres > room_l:
        return Advice(code="no_room", values=(("litres", litres), ("water_c", water_c), ("room_l", room_l)))
    return _taken_off_the_sparge(sheet, litres, water_c)


def _decoction(sheet: Sheet, found_c: float, wanted_c: float) -> tuple[Advice, ...]:
    """A part of a cold mash boiled in another pot: it takes no room and thins nothing; it warms the steel too."""
    if found_c >= wanted_c:
        return ()
    whole = mash_j_per_k(sheet.water, sheet.kettle)
    share = decoction_fraction(found_c, wanted_c, sheet.kettle.boil_c) * whole / (whole - steel_j_per_k(sheet.kettle))
    if share > MOST_DECOCTED:
        return ()
    litres = share * mash_room_l(hot_litres(sheet.water.fill_l, found_c), sheet.water.grain_kg)
    return (Advice(code="decoction", values=(("litres", litres), ("percent", 100.0 * share))),)


def _room_l(sheet: Sheet, at_c: float) -> float:
    """What may still be poured into the mash."""
    taken_l = hot_litres(sheet.water.fill_l, at_c)
    return max(RIM_FRACTION * sheet.kettle.capacity_l - mash_room_l(taken_l, sheet.water.grain_kg), 0.0)


def _taken_off_the_sparge(sheet: Sheet, litres: float, water_c: float) -> Advice:
    sparge_l = max(sheet.water.sparge_l - litres, 0.0)
    more_l = max(litres - sheet.water.sparge_l, 0.0)
    figures = (("litres", litres), ("water_c", water_c), ("sparge_l", sparge_l), ("more_l", more_l))
    return Advice(code="water_and_boil_longer" if more_l else "water_off_the_sparge", values=figures)


def _left_as_it_is(sheet: Sheet, found_c: float, wanted_c: float) -> Advice:
    """The regulator lifts a cold mash by itself; a hot one falls as slowly as its kettle loses heat."""
    if found_c < wanted_c:
        code = "cold_unconverted" if found_c < GELATINISED_C else "cold_drier"
        return Advice(code=code, values=(("under_c", wanted_c - found_c), ("gelatinised_c", GELATINISED_C)))
    loss_w = covered_loss_w_per_k(sheet.kettle, found_c, sheet.day.room_c) * (found_c - sheet.day.room_c)
    minutes = mash_j_per_k(sheet.water, sheet.kettle) * (found_c - wanted_c) / loss_w / S_PER_MIN
    code = "hot_beta_gone" if found_c >= BETA_GONE_C else "hot_sweeter"
    return Advice(code=code, values=(("minutes", minutes), ("over_c", found_c - wanted_c), ("gone_c", BETA_GONE_C)))


def stuck_mash(sheet: Sheet) -> Rescue:
    """Wort stays above the bed. Raises ValueError for a recipe without a mash."""
    mash, kettle, water = sheet.recipe.mash, sheet.kettle, sheet.water
    if mash is None:
        raise ValueError("this recipe has no mash")
    below_l = min(kettle.under_basket_l, water.mash_l)
    dry_min = below_l / kettle.pump_l_per_min
    mends = [Advice(code="stir_and_settle", values=(("minutes", SETTLE_MIN),))]
    thinner_l = min(LOOSE_L_PER_KG * water.grain_kg - water.fill_l, _room_l(sheet, mash.rests[-1].at_c))
    if thinner_l > 0.0:
        mends.append(_taken_off_the_sparge(sheet, thinner_l, mash.sparge_c))
    hulls_g = 1000.0 * HULLS_KG_PER_KG * water.grain_kg
    mends.append(Advice(code="hulls", values=(("grams", hulls_g),)))
    unmended = Advice(
        code="runs_dry" if kettle.has_pump else "drains_slowly",
        values=(("minutes", dry_min), ("below_l", below_l), ("element_cover_l", kettle.element_cover_l)),
    )
    found = Advice(code="stuck", values=(("litres_per_kg", water.litres_per_kg or 0.0),))
    return Rescue(found=found, unmended=unmended, mends=tuple(mends))
