"""What goes into a BeerJSON 1.0 beer: fermentables, hops, anything else."""

from __future__ import annotations

from kettlebridge.files import beerjson_units as units
from kettlebridge.files import source_values as say
from kettlebridge.files.beerjson_values import measured, minutes_before_end, put, word_of
from kettlebridge.files.key_lines import KeyPath
from kettlebridge.files.source_fields import Draft, Field, Verdict
from kettlebridge.files.source_values import needed, text_into
from kettlebridge.model.units import G_PER_KG

IN_THE_BOIL = "goes in elsewhere: taken as the last moment of the boil"
FERMENTABLE_KINDS = {
    "grain": "grain",
    "extract": "extract",
    "dry extract": "dry_extract",
    "sugar": "sugar",
    "honey": "sugar",
    "juice": "sugar",
    "fruit": "sugar",
    "other": "sugar",
}
SURE_KINDS = frozenset({"grain", "extract", "dry extract", "sugar"})
USES = {
    "add_to_mash": "mash",
    "add_to_boil": "boil",
    "add_to_fermentation": "fermenter",
    "add_to_package": "package",
}
HOP_USES = {"mash": "mash", "boil": "boil", "fermenter": "dry", "package": "dry"}


def _grams(draft: Draft, key: KeyPath, record: Field, *, litre_as_kg: bool, per: float = 1.0) -> float | None:
    """An amount in grams / `per`; a volume only where a litre may pass for a kilogram. None: left out, or a mistake."""
    amount = needed(draft, record, "amount")
    unit = None if amount is None else amount.child("unit")
    if amount is None or unit is None or str(unit.value) not in units.VOLUME_L:
        value = measured(draft, amount, units.MASS_G)
        if amount is not None and value is not None:
            draft.put(key, round(value / per, 9), amount)
        return value
    if not litre_as_kg:
        draft.refuse(amount, f"is a volume, and nobody says what it weighs; known here: {', '.join(units.MASS_G)}")
        return None
    litres = measured(draft, amount, units.VOLUME_L)
    if litres is not None:
        draft.put(key, round(litres * G_PER_KG / per, 9), amount, "is a volume: a litre taken as a kilogram")
    return litres


def _none_of_it(draft: Draft, record: Field) -> bool:
    """Whether an amount is zero, or counted in pieces: then the record is left out."""
    value, unit = record.child("amount", "value"), record.child("amount", "unit")
    if unit is not None and str(unit.value) in {"each", "unit", "pkg", "1", "dimensionless"}:
        say.leave_out(draft, record, "is counted in pieces, not weighed: left out")
        return True
    if value is not None and value.value in {0} and not isinstance(value.value, bool):
        say.leave_out(draft, record, say.NONE_OF_IT)
        return True
    return False


def fermentable(draft: Draft, record: Field) -> None:
    """A fermentable's object, as a table of the grist; nothing where there is none of it."""
    if _none_of_it(draft, record):
        return
    key = draft.begin(("grist",), record)
    name, kind_field = needed(draft, record, "name"), needed(draft, record, "type")
    if name is not None:
        text_into(draft, (*key, "name"), name)
    _grams(draft, (*key, "kg"), record, litre_as_kg=False, per=G_PER_KG)
    kind = word_of(draft, kind_field, FERMENTABLE_KINDS)
    group = record.child("grain_group")
    if kind == "grain" and group is not None and str(group.value) == "adjunct":
        kind = "adjunct"
        draft.note(group, Verdict.USED, "is an adjunct")
    if kind is not None and kind_field is not None:
        doubt = "" if str(kind_field.value) in SURE_KINDS else "taken as a sugar"
        draft.put((*key, "kind"), kind, kind_field, doubt)
    fine, potential = record.child("yield", "fine_grind"), record.child("yield", "potential")
    if fine is not None:
        put(draft, (*key, "yield_percent"), fine, units.PERCENT)
    elif potential is not None:
        put(draft, (*key, "yield_percent"), potential, units.POTENTIAL_PERCENT, "a potential; taken as a yield")
    else:
        draft.mistakes.append(draft.missing(record, "yield.fine_grind or yield.potential"))
    put(draft, (*key, "colour_ebc"), needed(draft, record, "color"), units.MALT_COLOUR_EBC)
    if kind not in {"grain", "adjunct"}:
        draft.data["grist"][-1]["moisture_percent"] = 0.0  # a yield by weight
        _dissolved(draft, key, record)


def _dissolved(draft: Draft, key: KeyPath, record: Field) -> None:
    """What is not mashed goes into the boil, whatever its author wrote."""
    source = record.child("timing", "use")
    use = word_of(draft, source, USES)
    if source is not None and use not in {None, "boil"}:
        draft.put((*key, "before_end_min"), 0.0, source, IN_THE_BOIL)
        return
    if source is not None:
        draft.note(source, Verdict.USED, "goes into the boil")
    minutes = minutes_before_end(draft, record)
    if minutes is not None:
        draft.put((*key, "before_end_min"), minutes[0], minutes[1], minutes[2])


def _use(draft: Draft, record: Field) -> tuple[str, Field] | None:
    source = needed(draft, record, "timing", "use")
    use = word_of(draft, source, USES)
    return None if use is None or source is None else (use, source)


def _timed(draft: Draft, key: KeyPath, record: Field) -> None:
    """What goes into the boil has its minutes."""
    minutes = minutes_before_end(draft, record)
    if minutes is None:
        draft.mistakes.append(draft.missing(record, "timing.duration"))
    else:
        draft.put((*key, "before_end_min"), minutes[0], minutes[1], minutes[2])


def hop(draft: Draft, record: Field) -> None:
    """A hop's object."""
    if _none_of_it(draft, record):
        return
    key = draft.begin(("hop",), record)
    name = needed(draft, record, "name")
    if name is not None:
        text_into(draft, (*key, "name"), name)
    put(draft, (*key, "alpha_percent"), needed(draft, record, "alpha_acid"), units.PERCENT)
    _grams(draft, (*key, "grams"), record, litre_as_kg=False)
    use = _use(draft, record)
    if use is None:
        return
    draft.put((*key, "use"), HOP_USES[use[0]], use[1])
    if use[0] == "boil":
        _timed(draft, key, record)


def misc(draft: Draft, record: Field) -> None:
    """The object of anything else."""
    if _none_of_it(draft, record):
        return
    key = draft.begin(("addition",), record)
    name, kind = needed(draft, record, "name"), record.child("type")
    if name is not None:
        text_into(draft, (*key, "name"), name)
    fining = kind is not None and str(kind.value) == "fining"
    if kind is not None:
        draft.put((*key, "kind"), "fining" if fining else "other", kind)
    else:
        draft.assume((*key, "kind"), "other", record, "no type is given: other assumed")
    _grams(draft, (*key, "grams"), record, litre_as_kg=True)
    use = _use(draft, record)
    if use is None:
        return
    draft.put((*key, "use"), use[0], use[1])
    if use[0] == "boil":
        _timed(draft, key, record)
