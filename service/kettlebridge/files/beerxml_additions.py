"""What goes into a BeerXML 1.0 beer: fermentables, hops, anything else."""

from __future__ import annotations

from kettlebridge.brewing.colour import malt_ebc
from kettlebridge.files import source_values as say
from kettlebridge.files.beerxml_values import none_of_it, number, word_of
from kettlebridge.files.source_fields import Draft, Field, Verdict
from kettlebridge.files.source_values import needed, number_of, text_into
from kettlebridge.model.units import G_PER_KG

FERMENTABLE_KINDS = {
    "grain": "grain",
    "sugar": "sugar",
    "extract": "extract",
    "dry extract": "dry_extract",
    "adjunct": "adjunct",
}
HOP_USES = {"boil": "boil", "dry hop": "dry", "mash": "mash", "first wort": "first_wort", "aroma": "stand"}
MISC_USES = {"boil": "boil", "mash": "mash", "primary": "fermenter", "secondary": "fermenter", "bottling": "package"}
LITRE_AS_KG = "is a volume: a litre taken as a kilogram"


def fermentable(draft: Draft, record: Field) -> None:
    """A fermentable's record, as a table of the grist; nothing where there is none of it."""
    if none_of_it(draft, record):
        return
    key = draft.begin(("grist",), record)
    name, amount = needed(draft, record, "NAME"), needed(draft, record, "AMOUNT")
    kind_field, yields = needed(draft, record, "TYPE"), needed(draft, record, "YIELD")
    if name is not None:
        text_into(draft, (*key, "name"), name)
    number(draft, amount, (*key, "kg"))
    kind = word_of(draft, kind_field, FERMENTABLE_KINDS)
    if kind is not None and kind_field is not None:
        draft.put((*key, "kind"), kind, kind_field)
    number(draft, yields, (*key, "yield_percent"))
    number(draft, needed(draft, record, "COLOR"), (*key, "colour_ebc"), malt_ebc)
    if kind in {"grain", "adjunct"}:
        number(draft, record.child("MOISTURE"), (*key, "moisture_percent"))
    else:
        draft.data["grist"][-1]["moisture_percent"] = 0.0  # a yield by weight, as the standard has it
    after = record.child("ADD_AFTER_BOIL")
    if after is not None and str(after.value).strip().upper() == "TRUE" and kind not in {"grain", "adjunct"}:
        draft.put((*key, "before_end_min"), 0.0, after, "goes in after the boil: taken as its last moment")


def hop(draft: Draft, record: Field) -> None:
    """A hop's record."""
    if none_of_it(draft, record):
        return
    key = draft.begin(("hop",), record)
    name, use_field = needed(draft, record, "NAME"), needed(draft, record, "USE")
    if name is not None:
        text_into(draft, (*key, "name"), name)
    number(draft, needed(draft, record, "ALPHA"), (*key, "alpha_percent"))
    number(draft, needed(draft, record, "AMOUNT"), (*key, "grams"), _grams)
    use = word_of(draft, use_field, HOP_USES)
    time = needed(draft, record, "TIME")
    if use is None or use_field is None or time is None:
        return
    minutes = number_of(draft, time) if use in {"boil", "stand"} else None
    if use == "stand" and minutes is not None and minutes > 0.0:
        draft.put((*key, "use"), use, use_field, say.STEEPED)
        stand = draft.data.setdefault("stand", {"at_c": say.STEEPED_C, "for_min": 0.0})
        stand["for_min"] = max(stand["for_min"], minutes)
        draft.sources[("stand", "for_min")] = time
    elif use == "stand":
        draft.put((*key, "use"), "boil", use_field, "no minutes to steep: taken as the last moment of the boil")
    else:
        draft.put((*key, "use"), use, use_field)
        if minutes is None:
            draft.note(time, Verdict.IGNORED, "has no end of boil or stand to count from")
    if minutes is not None:
        draft.put((*key, "before_end_min"), minutes, time)


def _grams(kg: float) -> float:
    return kg * G_PER_KG


def misc(draft: Draft, record: Field) -> None:
    """The record of anything else."""
    if none_of_it(draft, record):
        return
    key = draft.begin(("addition",), record)
    name, use_field = needed(draft, record, "NAME"), needed(draft, record, "USE")
    if name is not None:
        text_into(draft, (*key, "name"), name)
    kind_field = needed(draft, record, "TYPE")
    if kind_field is not None:
        fining = str(kind_field.value).strip().lower() == "fining"
        draft.put((*key, "kind"), "fining" if fining else "other", kind_field)
    weight = record.child("AMOUNT_IS_WEIGHT")
    weighed = weight is not None and str(weight.value).strip().upper() == "TRUE"
    if weight is not None:
        draft.note(weight, Verdict.USED, "says whether the amount is a weight")
    amount = needed(draft, record, "AMOUNT")
    number(draft, amount, (*key, "grams"), _grams, "" if weighed else LITRE_AS_KG)
    use = word_of(draft, use_field, MISC_USES)
    if use is None or use_field is None:
        return
    draft.put((*key, "use"), use, use_field)
    if use == "boil":
        number(draft, needed(draft, record, "TIME"), (*key, "before_end_min"))
