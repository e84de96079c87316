"""A brew sheet as titled tables of text: what page and terminal both show."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import fsum

from kettlebridge.brewing.brew_sheet import Sheet
from kettlebridge.brewing.energy import cost
from kettlebridge.brewing.marks import MarkKind
from kettlebridge.brewing.timetable import Phase, Slot
from kettlebridge.brewing.yeast import dry_yeast_g
from kettlebridge.model.recipe import AdditionUse, HopUse

MIN_PER_DAY = 24 * 60
PHASE_WORDS = {
    Phase.FILL: "Fill",
    Phase.HEAT: "Strike water heats",
    Phase.DOUGH_IN: "Grain in, stir",
    Phase.INFUSE: "Hot water in, stir",
    Phase.REST: "Mash",
    Phase.LIFT: "Lift the basket",
    Phase.SPARGE: "Sparge",
    Phase.DRAIN: "Drains",
    Phase.BASKET_AWAY: "Basket away",
    Phase.CLIMB: "Climbs to the boil",
    Phase.HOT_BREAK: "First boil: stay with it",
    Phase.BOIL: "Boil",
    Phase.STAND: "Hop stand",
    Phase.CHILL: "Chill",
    Phase.PITCH: "Transfer, measure, pitch",
    Phase.CLEAN: "Clean",
}
MARK_WORDS = {
    MarkKind.FILL: "Filled",
    MarkKind.MASH: "Mashed in",
    MarkKind.INFUSED: "Last infusion in",
    MarkKind.SPARGED: "Sparged and drained: stop here",
    MarkKind.BOIL_BEGINS: "Boil begins",
    MarkKind.BOIL_ENDS: "Boil ends",
    MarkKind.CHILLED: "Chilled",
}
USE_WORDS = {
    HopUse.MASH: "mash",
    HopUse.FIRST_WORT: "before the boil",
    HopUse.BOIL: "boil",
    HopUse.STAND: "stand",
    HopUse.DRY: "fermenter",
    AdditionUse.MASH: "mash",
    AdditionUse.BOIL: "boil",
    AdditionUse.STAND: "stand",
    AdditionUse.FERMENTER: "fermenter",
    AdditionUse.PACKAGE: "packaging",
}
ORDER = ("mash", "before the boil", "boil", "stand", "fermenter", "packaging")


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A table; the first column is text, the others are figures."""

    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def sections(sheet: Sheet) -> tuple[Section, ...]:
    """Everything on the sheet but its title and its cautions; empty tables are left out."""
    made = (_figures(sheet), _water(sheet), _marks(sheet), _grist(sheet), _additions(sheet), _times(sheet))
    return tuple(section for section in made if section.rows)


def _figures(sheet: Sheet) -> Section:
    g = sheet.gravities
    rows = [
        ("Into the fermenter", f"{sheet.recipe.batch_l:.1f} L"),
        ("Before the boil", f"{g.pre_boil_sg:.3f}, {g.pre_boil_plato:.1f} °P"),
        ("Original gravity", f"{g.original_sg:.3f}, {g.post_boil_plato:.1f} °P"),
        ("Final gravity", f"{g.final_sg:.3f}"),
        ("Alcohol", f"{g.alcohol_percent:.1f} %"),
        ("Bitterness", f"{sheet.bitterness_ibu:.0f} IBU"),
        ("Colour", f"{sheet.colour_ebc:.0f} EBC"),
        ("Yeast wanted", _yeast(sheet)),
        ("Efficiency", f"{100.0 * sheet.recipe.efficiency_fraction:.0f} %"),
        ("Electricity, element", _electricity(sheet)),
        *_priming(sheet),
    ]
    return Section(title="Beer", head=("", ""), rows=tuple(rows))


def _yeast(sheet: Sheet) -> str:
    return f"{sheet.cells_needed_billion:.0f} billion, {_mass(dry_yeast_g(sheet.cells_needed_billion))} dry"


def _priming(sheet: Sheet) -> tuple[tuple[str, str], ...]:
    """What bottling takes, where the recipe says how lively the beer is to be."""
    if sheet.priming_g is None:
        return ()
    volumes, sugar = sheet.recipe.targets.carbonation_volumes, _mass(sheet.priming_g)
    return (
        (f"Sugar into bottles for {volumes:g} volumes of gas", sugar),
        ("... if it never was warmer than", f"{sheet.chilled_c:.0f} °C"),
    )


def _electricity(sheet: Sheet) -> str:
    price = sheet.day.price_per_kwh
    paid = "" if price is None else f", costs {cost(sheet.energy_kwh, price):.2f}"
    return f"{sheet.energy_kwh:.1f} kWh{paid}"


def _water(sheet: Sheet) -> Section:
    rows = [("All water", f"{sheet.litres.total_water_l:.1f} L"), ("Fill the kettle", f"{sheet.water.fill_l:.1f} L")]
    if sheet.strike is not None and sheet.recipe.mash is not None:
        rows += [
            ("Strike water, heater off", f"{sheet.strike.water_c:.1f} °C"),
            (f"... {sheet.day.dough_in_min:g} min later, grain in", f"{sheet.strike.poured_c:.1f} °C"),
            ("... each minute more or less", f"{sheet.strike.per_min_c:.1f} °C"),
            ("Water to grain", f"{sheet.water.litres_per_kg or 0.0:.1f} L/kg"),
            ("Stays in the grain", f"{sheet.litres.absorbed_l:.1f} L"),
        ]
    for infusion in sheet.infusions:
        rows.append((f"Infusion to {infusion.rest}", f"{infusion.litres:.1f} L of {infusion.water_c:.0f} °C"))
        rows.append(("... put that pot on", _when(sheet, infusion.pot_begin_min)))
    if sheet.water.sparge_l and sheet.recipe.mash is not None:
        rows.append(("Sparge", f"{sheet.water.sparge_l:.1f} L of {sheet.recipe.mash.sparge_c:g} °C"))
    if sheet.sparge_pot_begin_min is not None:
        rows.append(("... put that pot on", _when(sheet, sheet.sparge_pot_begin_min)))
    if sheet.lift is not None:
        rows.append(("Basket at the lift", f"{sheet.lift.undrained_kg:.1f} kg"))
        rows.append(("... drained", f"{sheet.lift.drained_kg:.1f} kg"))
    rows.append(("Boils away, with the climb", f"{sheet.litres.boil_off_l + sheet.litres.climb_vapour_l:.1f} L"))
    rows.append(("Left in kettle, chiller, hops", f"{sheet.litres.post_boil_l - sheet.recipe.batch_l:.1f} L"))
    return Section(title="Water, in litres at 20 °C", head=("", ""), rows=tuple(rows))


def _marks(sheet: Sheet) -> Section:
    rows = tuple(
        (
            MARK_WORDS[mark.kind],
            f"{mark.read_l:.1f} L" + ("" if mark.read_cm is None else f", {mark.read_cm:.1f} cm"),
            f"{mark.at_c:.0f} °C",
            "in" if mark.basket_in else "out",
            f"{mark.cold_l:.1f} L",
        )
        for mark in sheet.marks
    )
    return Section(title="Levels", head=("read when", "scale shows", "liquid at", "basket", "is, at 20 °C"), rows=rows)


def _grist(sheet: Sheet) -> Section:
    rows = []
    for each in sheet.recipe.fermentables:
        where = "mash" if each.before_end_min is None else f"boil, {each.before_end_min:g} min before its end"
        rows.append((each.name, _mass(1000.0 * each.kg), where))
    return Section(title="Grist", head=("", "", "goes into"), rows=tuple(rows))


def _additions(sheet: Sheet) -> Section:
    lines: list[tuple[str, float, tuple[str, ...]]] = []
    for line in sheet.hops:
        use, minutes = USE_WORDS[line.hop.use], line.hop.before_end_min
        bitter = f"{line.bitterness_ibu:.1f}" if line.boil_minutes else "not counted"
        name = f"{line.hop.name} ({100.0 * line.hop.alpha_fraction:g} %)"
        lines.append((use, minutes or 0.0, (name, _mass(line.hop.grams), use, _before(minutes), bitter)))
    for each in sheet.recipe.additions:
        use, minutes = USE_WORDS[each.use], each.before_end_min
        lines.append((use, minutes or 0.0, (each.name, _mass(each.grams), use, _before(minutes), "")))
    lines.sort(key=lambda line: (ORDER.index(line[0]), -line[1]))
    head = ("", "", "goes into", "min before end", "IBU")
    return Section(title="Hops and additions, in order", head=head, rows=tuple(cells for _, _, cells in lines))


def _before(minutes: float | None) -> str:
    return "" if minutes is None else f"{minutes:g}"


def _times(sheet: Sheet) -> Section:
    rows = []
    for slot in sheet.slots:
        what = PHASE_WORDS[slot.phase] + (f": {slot.name}" if slot.name else "")
        at = "" if slot.at_c is None else f"{slot.at_c:.0f} °C"
        rows.append(
            (what, _when(sheet, slot.begin_min), f"{slot.for_min:.0f} min", at, "hands" if slot.hands else "free")
        )
    rows.append(("Done", _when(sheet, sheet.slots[-1].end_min), "", "", ""))
    hands_min = fsum(slot.for_min for slot in sheet.slots if slot.hands)
    free_min = fsum(slot.for_min for slot in sheet.slots if not slot.hands)
    rows.append(("Hands, beside additions", "", _hours(hands_min), "", ""))
    rows.append(("Free, within call", "", _hours(free_min), "", ""))
    return Section(title="The day", head=("", "from", "lasts", "", "you"), rows=tuple(rows))


def _hours(minutes: float) -> str:
    hours, rest = divmod(round(minutes), 60)
    return f"{hours} h {rest:02d}" if hours else f"{rest} min"


def _when(sheet: Sheet, after_min: float) -> str:
    """The clock where the day has a ready time, else hours and minutes from the first slot."""
    if sheet.day.ready_min is None:
        hours, minutes = divmod(round(after_min), 60)
        return f"+{hours}:{minutes:02d}"
    hours, minutes = divmod(round(sheet.day.ready_min - _ready_after_min(sheet.slots) + after_min) % MIN_PER_DAY, 60)
    return f"{hours:02d}:{minutes:02d}"


def _ready_after_min(slots: tuple[Slot, ...]) -> float:
    """When the strike water is hot, from the first slot; without a mash, the filled kettle."""
    heats = [slot.end_min for slot in slots if slot.phase is Phase.HEAT]
    return heats[0] if heats else slots[0].end_min


def _mass(grams: float) -> str:
    choose: Callable[[float], str] = _kilograms if grams >= 1000.0 else _grams
    return choose(grams)


def _kilograms(grams: float) -> str:
    return f"{grams / 1000.0:.2f} kg"


def _grams(grams: float) -> str:
    return f"{grams:.0f} g" if grams >= 10.0 else f"{grams:.1f} g"
