"""The profile of a sheet: the executable day, from filling to cleaning, with what the brewer is told at each step."""

from __future__ import annotations

from kettlebridge.brewing.brew_sheet import SOAKED, Infusion, Sheet
from kettlebridge.brewing.marks import MarkKind
from kettlebridge.brewing.vessel import SPARGE_STANDS_MM, stands_on_the_bed_l
from kettlebridge.brewing.volumes import HOPS_SOAK_L_PER_KG
from kettlebridge.brewing.water import hot_litres
from kettlebridge.model.kettle import ChillWay
from kettlebridge.model.plan import (
    USUAL_SPARGE_C,
    Addition,
    AdditionKind,
    Aim,
    AnyStep,
    AskKind,
    AskStep,
    BoilStep,
    ChillStep,
    CirculateStep,
    HeatStep,
    HopStandStep,
    Profile,
    RestStep,
    Water,
)
from kettlebridge.model.recipe import AdditionUse, Hop, HopUse, OtherAddition, Stand

PUMP_MAX_C = 80.0
"""Above it a heat step does not pump."""
KEEP_MAX_C = 76.0
"""Of the wort under a lifted basket."""
SETTLES_LOW_C = 0.15
"""A heat step is done within 0.3 °C of its temperature, and comes from below."""
SETTLE_MIN = 5.0
SMALL_KETTLE_L = 15.0
SETTLE_SMALL_MIN = 3.0
"""How long a bed lies before it is recirculated; a small kettle cools too fast for more."""
SANITISE_MIN = 10.0
"""At the end of the boil, boiling wort through the chiller or around the coil (common practice, no source)."""
CHILLER_TEXT = {
    ChillWay.IN_KETTLE: f"The clean coil goes into the boil {SANITISE_MIN:g} min before its end: it sanitises it.",
    ChillWay.IN_LINE: "No pump runs boiling wort through the chiller: sanitise it before it is used.",
}
CLEAN_C = 60.0
CLEANER_RUNS_MIN = 20.0
"""Circulating the cleaner; 20 to 25 is usual (common practice, no source)."""
RINSE_SHARE = 0.4
"""Of the capacity, for cleaning and rinsing."""
SODA_G_PER_L = 5.0
GRAMS_TO = 1
LEAST_G = 0.1
LONGEST_TEXT = 600
LONGEST_NAME = 80


def profile_of(sheet: Sheet, ready_at: str | None = None) -> Profile:
    """The day of a sheet that fits. `ready_at`: "HH:MM" at which the strike water is to be hot, for a mash only."""
    mashes = sheet.recipe.mash is not None
    steps: list[AnyStep] = [_fill(sheet)]
    if mashes:
        steps += _mash(sheet, unattended=ready_at is not None)
        steps += _lautering(sheet)
    steps.append(_boil(sheet))
    if sheet.recipe.stand is not None:
        steps.append(_stand(sheet, sheet.recipe.stand))
    steps += _cold_side(sheet)
    steps += _cleaning(sheet)
    water = Water(
        fill_l=round(sheet.water.fill_l, 2),
        sparge_l=round(sheet.water.sparge_l, 2) if mashes else 0.0,
        grain_kg=round(sheet.water.grain_kg, 3),
        grain_c=sheet.day.grain_c if mashes else None,
        sparge_pot_w=sheet.day.sparge_pot_w if mashes and sheet.water.sparge_l else None,
        sparge_c=sheet.recipe.mash.sparge_c if sheet.recipe.mash is not None else USUAL_SPARGE_C,
    )
    return Profile(
        name=sheet.recipe.name,
        water=water,
        steps=tuple(steps),
        ready_at=ready_at if mashes else None,
        aim=_aim(sheet),
    )


def _aim(sheet: Sheet) -> Aim:
    """Rounded here and nowhere else, so that a file says what the sheet's day is judged by."""
    first_wort_g, soaked_g = 0.0, 0.0
    for hop in sheet.recipe.hops:
        first_wort_g += hop.grams * hop.alpha_fraction if hop.use is HopUse.FIRST_WORT else 0.0
        soaked_g += hop.grams if hop.use in SOAKED else 0.0
    return Aim(
        original_sg=round(sheet.gravities.original_sg, 5),
        fermenter_l=round(sheet.litres.into_fermenter_l, 2),
        efficiency_percent=round(100.0 * sheet.recipe.efficiency_fraction, 1),
        attenuation_percent=round(100.0 * sheet.recipe.yeast.attenuation_fraction, 1),
        bitterness_ibu=round(sheet.bitterness_ibu, 1),
        first_wort_alpha_grams=round(first_wort_g, 3),
        hops_keep_l=round(HOPS_SOAK_L_PER_KG * soaked_g / 1000.0, 3),
    )


def _fill(sheet: Sheet) -> AskStep:
    basket = "Basket in, " if sheet.recipe.mash is not None else ""
    text = f"{basket}tap closed, element covered, lid on. Measured cold, from the tap."
    text = text[0].upper() + text[1:]
    if sheet.recipe.mash is None:
        text += _chiller_text(sheet)
    return AskStep(name="Fill", what=AskKind.FILL, text=text, litres=round(sheet.water.fill_l, 2))


def _mash(sheet: Sheet, *, unattended: bool) -> list[AnyStep]:
    mash, struck = sheet.recipe.mash, sheet.strike
    if mash is None or struck is None:
        return []
    pumps = sheet.kettle.has_pump and struck.water_c <= PUMP_MAX_C and not unattended
    to_c = round(struck.water_c + SETTLES_LOW_C, 1)
    steps: list[AnyStep] = [
        HeatStep(name="Strike water", to_c=to_c, pump=pumps, ready=unattended),
        AskStep(
            name="Dough in",
            what=AskKind.DOUGH_IN,
            text=_dough_in_text(sheet, mash.rests[0].at_c, struck.per_min_c),
        ),
    ]
    settle_min = SETTLE_SMALL_MIN if sheet.kettle.capacity_l < SMALL_KETTLE_L else SETTLE_MIN
    infusions = iter(sheet.infusions)
    for nth, rest in enumerate(mash.rests):
        stirred = nth == 0 or bool(sheet.water.infusions_l[nth])
        if nth and stirred:
            steps.append(_infuse(next(infusions), rest.at_c))
        pump_after_min = min(settle_min, rest.for_min) if stirred else 0.0
        steps.append(
            RestStep(
                name=rest.name,
                at_c=rest.at_c,
                for_min=rest.for_min,
                pump_after_min=pump_after_min if sheet.kettle.has_pump else None,
            )
        )
    return steps


def _infuse(infusion: Infusion, to_c: float) -> AskStep:
    hot_l = hot_litres(infusion.litres, infusion.water_c)
    text = (
        f"{infusion.litres:.1f} L ({hot_l:.1f} L as measured hot) of {infusion.water_c:.0f} °C, a ladle at a time."
        f" It brings the mash to {to_c:g} °C; the element makes up what is missing."
    )
    return AskStep(
        name=f"Infusion, {infusion.rest}"[:LONGEST_NAME],
        what=AskKind.INFUSE,
        text=text,
        litres=round(infusion.litres, 2),
        water_c=round(infusion.water_c, 1),
    )


def _dough_in_text(sheet: Sheet, first_c: float, per_min_c: float) -> str:
    text = (
        f"Pour the grain in slowly, stir to the floor until no lump is left. It settles at {first_c:g} °C if it is in"
        f" {sheet.day.dough_in_min:g} min after the heater went off; each minute more costs {per_min_c:.1f} °C."
    )
    with_it = [f"{each.name} {each.grams:.3g} g" for each in sheet.recipe.additions if each.use is AdditionUse.MASH]
    with_it += [f"{hop.name} {hop.grams:.3g} g" for hop in sheet.recipe.hops if hop.use is HopUse.MASH]
    return _joined(text, "With it: ", with_it)


def _joined(text: str, before: str, things: list[str]) -> str:
    """`text` and a list, as far as a step's text holds it; names alone would be cut in the middle of a word."""
    return f"{text} {before}{', '.join(things)}."[:LONGEST_TEXT] if things else text


def _lautering(sheet: Sheet) -> list[AnyStep]:
    mash, lift = sheet.recipe.mash, sheet.lift
    if mash is None or lift is None:
        return []
    keep_c = min(mash.rests[-1].at_c, KEEP_MAX_C)
    lift_text = (
        f"About {lift.undrained_kg:.1f} kg as it leaves the wort. Steam rises under it: gloves, and a support that"
        " holds the whole weight."
    )
    steps: list[AnyStep] = [AskStep(name="Lift", what=AskKind.LIFT, text=lift_text)]
    if sheet.water.sparge_l:
        sparge_text = (
            f"Water of {mash.sparge_c:g} °C, slowly, at most {stands_on_the_bed_l(sheet.kettle):.1f} L at once: never"
            f" more than {SPARGE_STANDS_MM:g} mm above the grain. Stop when it is used up,"
            f" or at {_sparged(sheet)}, read hot with the basket out."
        )
        steps.append(
            AskStep(
                name="Sparge",
                what=AskKind.SPARGE,
                text=sparge_text,
                litres=round(sheet.water.sparge_l, 2),
                keep_c=keep_c,
            )
        )
    steps.append(AskStep(name="Drain", what=AskKind.DRAIN, text="Ten minutes. Do not press the grain.", keep_c=keep_c))
    steps.append(AskStep(name="Basket away", what=AskKind.BASKET_AWAY, text=_before_the_climb(sheet)))
    return steps


def _sparged(sheet: Sheet) -> str:
    mark = next(mark for mark in sheet.marks if mark.kind is MarkKind.SPARGED)
    return f"{mark.read_l:.1f} L" + ("" if mark.read_cm is None else f" ({mark.read_cm:.1f} cm)")


def _before_the_climb(sheet: Sheet) -> str:
    text = (
        f"There should be {sheet.litres.pre_boil_l:.1f} L (at 20 °C) of {sheet.gravities.pre_boil_sg:.3f}."
        " Stay within call: it foams at the first boil."
    )
    text += _chiller_text(sheet)
    first = [f"{hop.name} {hop.grams:.3g} g" for hop in sheet.recipe.hops if hop.use is HopUse.FIRST_WORT]
    return _joined(text, "Into the kettle now: ", first)


def _boil(sheet: Sheet) -> BoilStep:
    additions = [_hop(hop) for hop in sheet.recipe.hops if hop.use is HopUse.BOIL]
    additions += [_other(each) for each in sheet.recipe.additions if each.use is AdditionUse.BOIL]
    additions += [
        Addition(
            name=each.name,
            kind=AdditionKind.SUGAR,
            grams=round(1000.0 * each.kg, GRAMS_TO),
            before_end_min=each.before_end_min or 0.0,
            extract_percent=round(100.0 * each.extract_kg / each.kg, 1),
        )
        for each in sheet.recipe.dissolved
    ]
    for_min = sheet.recipe.boil_min
    return BoilStep(
        name="Boil",
        for_min=for_min,
        additions=tuple(sorted(additions, key=lambda each: -each.before_end_min)),
        sanitise_last_min=min(SANITISE_MIN, for_min) if _pumps_through_chiller(sheet) else None,
    )


def _pumps_through_chiller(sheet: Sheet) -> bool:
    return sheet.kettle.chill is ChillWay.IN_LINE and sheet.kettle.has_pump


def _chiller_text(sheet: Sheet) -> str:
    """How the chiller is sanitised where the kettle does not do it by itself."""
    return "" if _pumps_through_chiller(sheet) else f" {CHILLER_TEXT[sheet.kettle.chill]}"


def _hop(hop: Hop) -> Addition:
    return Addition(
        name=hop.name,
        kind=AdditionKind.HOPS,
        grams=max(round(hop.grams, GRAMS_TO), LEAST_G),
        before_end_min=hop.before_end_min or 0.0,
        alpha_percent=round(100.0 * hop.alpha_fraction, 2),
    )


def _other(each: OtherAddition) -> Addition:
    return Addition(
        name=each.name,
        kind=each.kind,
        grams=max(round(each.grams, GRAMS_TO), LEAST_G),
        before_end_min=each.before_end_min or 0.0,
    )


def _stand(sheet: Sheet, stand: Stand) -> HopStandStep:
    additions = [_hop(hop) for hop in sheet.recipe.hops if hop.use is HopUse.STAND]
    additions += [_other(each) for each in sheet.recipe.additions if each.use is AdditionUse.STAND]
    return HopStandStep(
        name="Hop stand",
        at_c=stand.at_c,
        for_min=stand.for_min,
        additions=tuple(sorted(additions, key=lambda each: -each.before_end_min)),
    )


def _cold_side(sheet: Sheet) -> list[AnyStep]:
    yeast = sheet.recipe.yeast
    text = (
        f"Measure the gravity: {sheet.gravities.original_sg:.3f} at 20 °C is planned, {sheet.recipe.batch_l:.1f} L in"
        f" the fermenter. Let it fall in to take up air, then pitch {yeast.name} at {yeast.pitch_c:g} °C."
    )
    later = [f"{each.name} {each.grams:.3g} g" for each in sheet.recipe.additions if each.use is AdditionUse.FERMENTER]
    return [
        ChillStep(name="Chill", to_c=yeast.pitch_c, water_c=sheet.day.tap_c),
        AskStep(name="Pitch", what=AskKind.PITCH, text=_joined(text, "With it: ", later)),
        AskStep(name="Empty", what=AskKind.EMPTY, text="Hops and trub out, basket and chiller rinsed."),
    ]


def _cleaning(sheet: Sheet) -> list[AnyStep]:
    litres = max(round(RINSE_SHARE * sheet.kettle.capacity_l, 1), round(1.2 * sheet.kettle.element_cover_l, 1))
    soda_g = SODA_G_PER_L * litres
    soda = f"With {soda_g:.0f} g of washing soda. Gloves and goggles; never boil it, never mix it with acid."
    last = "Rinse with cold water until it runs clear. Chiller and hoses drained, lid off to dry."
    fill = AskStep(name="Fill for cleaning", what=AskKind.FILL, text=soda, litres=litres)
    if not sheet.kettle.has_pump:
        return [fill, AskStep(name="Empty", what=AskKind.EMPTY, text=f"Scrub it. {last}")]
    return [
        fill,
        CirculateStep(name="Clean", at_c=CLEAN_C, for_min=CLEANER_RUNS_MIN),
        AskStep(name="Empty", what=AskKind.EMPTY, text=last),
    ]
