"""BeerXML 1.0: each tag of a recipe, and what becomes of it. Units: kg, L, °C, min, per cent, degrees Lovibond."""

from __future__ import annotations

from kettlebridge.brewing.yeast import DRY_BILLION_PER_G
from kettlebridge.files import source_values as say
from kettlebridge.files.beerxml_additions import fermentable, hop, misc
from kettlebridge.files.beerxml_values import number
from kettlebridge.files.key_lines import KeyPath
from kettlebridge.files.source_fields import Draft, Field, Verdict
from kettlebridge.files.source_values import needed, number_of, text_into
from kettlebridge.model.plan import SPARGE_MAX_C
from kettlebridge.model.recipe import Way
from kettlebridge.model.units import G_PER_KG

IGNORED: dict[str, str] = {
    "TYPE": "follows from what is in the recipe",
    "VERSION": "the version of the record",
    "BREWER": "says who, not what",
    "ASST_BREWER": "says who, not what",
    "DATE": "says when, not what",
    "BOIL_SIZE": "worked out for the kettle",
    "EQUIPMENT": "the kettle file says what the kettle is",
    "WATERS": "water salts are not worked out",
    "IBU": "worked out",
    "IBU_METHOD": "worked out",
    "TASTE_NOTES": "about a beer, not about how to brew it",
    "TASTE_RATING": "about a beer, not about how to brew it",
}
"""Tags of a RECIPE that are known and not needed. Display strings (DISPLAY_..., EST_...) are not meant for import."""
IGNORED_IN_RECORDS = "is not needed to brew it"


def read_recipe(draft: Draft) -> None:
    """Fills a draft from a RECIPE element."""
    recipe = draft.recipe
    _head(draft)
    for record in _records(recipe, "FERMENTABLES", "FERMENTABLE"):
        fermentable(draft, record)
    for record in _records(recipe, "HOPS", "HOP"):
        hop(draft, record)
    for record in _records(recipe, "MISCS", "MISC"):
        misc(draft, record)
    _mash(draft)
    _yeast(draft)
    for tag, why in IGNORED.items():
        for each in recipe.children:
            if each.name == tag:
                draft.note(each, Verdict.IGNORED, why)
    for each in recipe.children:
        if each.name.startswith(("DISPLAY_", "EST_")):
            draft.note(each, Verdict.IGNORED, "is for display, not for import")
        elif each.name in {"HOPS", "FERMENTABLES", "MISCS", "YEASTS", "MASH", "STYLE"}:
            draft.note(each, Verdict.IGNORED, IGNORED_IN_RECORDS)


def _records(recipe: Field, around: str, name: str) -> list[Field]:
    holder = recipe.child(around)
    return [] if holder is None else [each for each in holder.children if each.name == name]


def _head(draft: Draft) -> None:
    recipe = draft.recipe
    name = needed(draft, recipe, "NAME")
    if name is not None:
        text_into(draft, ("name",), name)
    style = recipe.child("STYLE", "NAME")
    if style is not None and style.value:
        text_into(draft, ("style",), style)
    notes = recipe.child("NOTES")
    if notes is not None and notes.value:
        text_into(draft, ("notes",), notes, say.LONGEST_PARAGRAPH)
    number(draft, needed(draft, recipe, "BATCH_SIZE"), ("batch_l",))
    number(draft, needed(draft, recipe, "BOIL_TIME"), ("boil", "for_min"))
    efficiency = recipe.child("EFFICIENCY")
    if efficiency is None:
        draft.assume(("efficiency_percent",), say.USUAL_EFFICIENCY_PERCENT, recipe, say.NO_EFFICIENCY)
    number(draft, efficiency, ("efficiency_percent",), doubt=say.BREWHOUSE)
    measured = "was measured; taken as what is aimed at"
    number(draft, recipe.child("OG"), ("target", "original_sg"), doubt=measured)
    number(draft, recipe.child("FG"), ("target", "final_sg"), doubt=measured)
    number(draft, recipe.child("CARBONATION"), ("target", "carbonation_volumes"))


def _mash(draft: Draft) -> None:
    mashed = [each for each in draft.data.get("grist", []) if each.get("kind") in {"grain", "adjunct"}]
    steps = draft.recipe.child("MASH", "MASH_STEPS")
    records = [] if steps is None else [each for each in steps.children if each.name == "MASH_STEP"]
    if not mashed:
        return
    if not records:
        say.usual_mash(draft, draft.recipe)
        return
    for nth, record in enumerate(records):
        _mash_step(draft, record, nth)
    _thickness(draft, records[0], sum(each.get("kg") or 0.0 for each in mashed))
    sparge = draft.recipe.child("MASH", "SPARGE_TEMP")
    hottest = f"hotter than {SPARGE_MAX_C:g} °C: taken as that"
    value = number_of(draft, sparge) if sparge is not None else None
    if sparge is not None and value is not None and value > 0.0:
        draft.put(("mash", "sparge_c"), min(value, SPARGE_MAX_C), sparge, hottest if value > SPARGE_MAX_C else "")


def _mash_step(draft: Draft, record: Field, nth: int) -> None:
    key = draft.begin(("mash", "rest"), record)
    name = needed(draft, record, "NAME")
    if name is not None and name.value:
        text_into(draft, (*key, "name"), name)
    kind = needed(draft, record, "TYPE")
    if kind is not None:
        _way(draft, record, kind, (*key, "by"), first=nth == 0)
    number(draft, needed(draft, record, "STEP_TEMP"), (*key, "at_c"))
    time = needed(draft, record, "STEP_TIME")
    minutes = number_of(draft, time) if time is not None else None
    if time is not None and minutes is not None:
        doubt = f"taken as {say.LEAST_REST_MIN:g} min" if minutes == 0.0 else ""
        draft.put((*key, "for_min"), minutes or say.LEAST_REST_MIN, time, doubt)


def _way(draft: Draft, record: Field, kind: Field, key: KeyPath, *, first: bool) -> None:
    """By infusion only where the step brings water of its own; how much is worked out for the kettle."""
    word, water = str(kind.value).strip().lower(), record.child("INFUSE_AMOUNT")
    litres = number_of(draft, water) if water is not None and water.value and not first else None
    if word == "infusion" and water is not None and litres:
        draft.put(key, Way.INFUSION.value, kind)
        draft.note(water, Verdict.IGNORED, say.INFUSED)
        return
    plain = word == "temperature" or first
    draft.note(kind, Verdict.USED if plain else Verdict.DOUBTFUL, "a rest" if plain else say.HEATED)


def _thickness(draft: Draft, first: Field, grain_kg: float) -> None:
    """Litres to the kilogram, from the water of the first step."""
    water = first.child("INFUSE_AMOUNT")
    litres = number_of(draft, water) if water is not None and water.value else None
    if water is not None and litres is not None and litres > 0.0 and grain_kg > 0.0:
        draft.put(("mash", "water_l_per_kg"), round(litres / grain_kg, 2), water)


def _yeast(draft: Draft) -> None:
    records = _records(draft.recipe, "YEASTS", "YEAST")
    if not records:
        usual = {"name": "Ale yeast", "kind": "ale", "attenuation_percent": say.USUAL_ATTENUATION_PERCENT}
        draft.assume(("yeast",), usual, draft.recipe, say.NO_YEAST)
    for nth, record in enumerate(records):
        if nth:
            say.leave_out(draft, record, say.ONLY_FIRST)
            continue
        draft.sources[("yeast",)] = record
        _one_yeast(draft, record)
    _pitch_c(draft, records[0] if records else None)


def _one_yeast(draft: Draft, record: Field) -> None:
    name, kind = needed(draft, record, "NAME"), needed(draft, record, "TYPE")
    if name is not None:
        text_into(draft, ("yeast", "name"), name)
    if kind is not None:
        word = str(kind.value).strip().lower()
        doubt = "" if word in {"ale", "lager"} else "counted as an ale yeast"
        draft.put(("yeast", "kind"), "lager" if word == "lager" else "ale", kind, doubt)
    number(draft, record.child("ATTENUATION"), ("yeast", "attenuation_percent"))
    amount, form = record.child("AMOUNT"), record.child("FORM")
    weight = record.child("AMOUNT_IS_WEIGHT")
    dry = form is not None and str(form.value).strip().lower() == "dry"
    if dry and amount is not None and weight is not None and str(weight.value).strip().upper() == "TRUE":
        kg = number_of(draft, amount)
        if kg:
            billion = kg * G_PER_KG * DRY_BILLION_PER_G
            draft.put(("yeast", "cells_billion"), billion, amount, f"{DRY_BILLION_PER_G:g} billion cells to the gram")
            draft.note(weight, Verdict.USED, "says that the amount is a weight")
    elif amount is not None:
        draft.note(amount, Verdict.IGNORED, "does not say how many cells it holds")


def _pitch_c(draft: Draft, record: Field | None) -> None:
    primary = draft.recipe.child("PRIMARY_TEMP")
    if primary is not None and primary.value:
        number(draft, primary, ("yeast", "pitch_c"), doubt="of the fermentation; taken for pitching")
        return
    low, high = (None if record is None else record.child(tag) for tag in ("MIN_TEMPERATURE", "MAX_TEMPERATURE"))
    if low is not None and high is not None:
        cold, warm = number_of(draft, low), number_of(draft, high)
        if cold is not None and warm is not None:
            middle = "between lowest and highest; taken for pitching"
            draft.put(("yeast", "pitch_c"), (cold + warm) / 2.0, low, middle)
            draft.note(high, Verdict.DOUBTFUL, middle)
            return
    kind = draft.data.get("yeast", {}).get("kind", "ale")
    draft.assume(
        ("yeast", "pitch_c"), say.PITCH_C[kind], record or draft.recipe, say.NO_PITCH_C.format(say.PITCH_C[kind])
    )
