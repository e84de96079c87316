"""BeerJSON 1.0: each key of a recipe, and what becomes of it.

The published JSON Schema is not to be had as a Python package, so this is a strict reading of our own: values with a
unit, required keys, words of a list.
"""

from __future__ import annotations

from kettlebridge.files import beerjson_units as units
from kettlebridge.files import source_values as say
from kettlebridge.files.beerjson_additions import fermentable, hop, misc
from kettlebridge.files.beerjson_values import measured, put
from kettlebridge.files.document import refused
from kettlebridge.files.key_lines import KeyPath
from kettlebridge.files.source_fields import Draft, Field, Verdict
from kettlebridge.files.source_values import needed, number_of, text_into
from kettlebridge.model.plan import SPARGE_MAX_C
from kettlebridge.model.recipe import Way

RESTS = frozenset({"infusion", "temperature", "decoction"})
IGNORED: dict[str, str] = {
    "type": "follows from what is in the recipe",
    "author": "says who, not what",
    "coauthor": "says who, not what",
    "created": "says when, not what",
    "taste": "about a beer, not about how to brew it",
    "calories_per_pint": "about a beer, not about how to brew it",
    "alcohol_by_volume": "worked out",
    "apparent_attenuation": "worked out from the yeast's own",
    "beer_pH": "pH is not worked out",
    "packaging": "what comes after fermentation is not planned",
    "fermentation": "what comes after pitching is not planned",
    "ingredients": "is not needed to brew it",
    "mash": "is not needed to brew it",
    "boil": "worked out for the kettle",
    "style": "ranges of a style are not compared",
}


def recipes_of(path: str, root: Field) -> tuple[Field, ...]:
    """The recipes of a document. Raises FileError where the document is no BeerJSON."""
    beer = root.child("beerjson")
    if beer is None:
        raise refused(path, None, 'is no BeerJSON: it has no "beerjson" at its top')
    version = beer.child("version")
    if version is None or isinstance(version.value, bool) or not isinstance(version.value, int | float):
        raise refused(path, None, "is no BeerJSON: beerjson.version is missing or no number")
    if not 1.0 <= version.value < 3.0:
        raise refused(path, None, f"is BeerJSON {version.value:g}; 1.0 is understood")
    holder = beer.child("recipes")
    return () if holder is None else tuple(each for each in holder.children if each.children)


def read_recipe(draft: Draft) -> None:
    """Fills a draft from a recipe object."""
    recipe = draft.recipe
    _head(draft)
    for record in _additions(recipe, "fermentable_additions"):
        fermentable(draft, record)
    for record in _additions(recipe, "hop_additions"):
        hop(draft, record)
    for record in _additions(recipe, "miscellaneous_additions"):
        misc(draft, record)
    _mash(draft)
    _boil(draft)
    _culture(draft)
    for each in recipe.children:
        if each.name in IGNORED:
            draft.note(each, Verdict.IGNORED, IGNORED[each.name])


def _additions(recipe: Field, name: str) -> tuple[Field, ...]:
    holder = recipe.child("ingredients", name)
    return () if holder is None else holder.children


def _head(draft: Draft) -> None:
    recipe = draft.recipe
    name, style, notes = needed(draft, recipe, "name"), recipe.child("style", "name"), recipe.child("notes")
    if name is not None:
        text_into(draft, ("name",), name)
    if style is not None and style.value:
        text_into(draft, ("style",), style)
    if notes is not None and notes.value:
        text_into(draft, ("notes",), notes, say.LONGEST_PARAGRAPH)
    put(draft, ("batch_l",), needed(draft, recipe, "batch_size"), units.VOLUME_L)
    efficiency = recipe.child("efficiency", "brewhouse")
    if efficiency is None:
        draft.assume(("efficiency_percent",), say.USUAL_EFFICIENCY_PERCENT, recipe, say.NO_EFFICIENCY)
    put(draft, ("efficiency_percent",), efficiency, units.PERCENT, say.BREWHOUSE)
    put(draft, ("target", "original_sg"), recipe.child("original_gravity"), units.GRAVITY_SG)
    put(draft, ("target", "final_sg"), recipe.child("final_gravity"), units.GRAVITY_SG)
    put(draft, ("target", "colour_ebc"), recipe.child("color_estimate"), units.MALT_COLOUR_EBC)
    bitter = recipe.child("ibu_estimate", "ibu") or recipe.child("ibu_estimate", "value")
    if bitter is not None and bitter.children:
        put(draft, ("target", "bitterness_ibu"), bitter, units.BITTERNESS_IBU)
    elif bitter is not None and (value := number_of(draft, bitter)) is not None:
        draft.put(("target", "bitterness_ibu"), value, bitter)
    gas = recipe.child("carbonation")
    if gas is not None and gas.children:
        put(draft, ("target", "carbonation_volumes"), gas, units.CARBONATION_VOLUMES)
    elif gas is not None and (value := number_of(draft, gas)) is not None:
        draft.put(("target", "carbonation_volumes"), value, gas)


def _mash(draft: Draft) -> None:
    mashed = [each for each in draft.data.get("grist", []) if each.get("kind") in {"grain", "adjunct"}]
    if not mashed:
        return
    holder = draft.recipe.child("mash", "mash_steps")
    steps = () if holder is None else holder.children
    grain_kg = sum(each.get("kg") or 0.0 for each in mashed)
    rests = 0
    for step in steps:
        kind = needed(draft, step, "type")
        word = "" if kind is None else str(kind.value)
        if word in RESTS and kind is not None:
            _rest(draft, step, kind, first=rests == 0)
            if rests == 0:
                _thickness(draft, step, grain_kg)
            rests += 1
        elif word == "sparge":
            _sparge(draft, step)
            draft.note(step, Verdict.USED, "is the sparge, which is worked out for the kettle")
        else:
            say.leave_out(draft, step, f'"{word[:40]}" is no rest that this kettle can hold: left out')
    if not rests:
        say.usual_mash(draft, draft.recipe)


def _rest(draft: Draft, step: Field, kind: Field, *, first: bool) -> None:
    key = draft.begin(("mash", "rest"), step)
    name = needed(draft, step, "name")
    if name is not None and name.value:
        text_into(draft, (*key, "name"), name)
    _way(draft, step, kind, (*key, "by"), first=first)
    put(draft, (*key, "at_c"), needed(draft, step, "step_temperature"), units.TEMPERATURE_C)
    time = needed(draft, step, "step_time")
    minutes = measured(draft, time, units.TIME_MIN)
    if time is not None and minutes is not None:
        doubt = f"taken as {say.LEAST_REST_MIN:g} min" if minutes == 0.0 else ""
        draft.put((*key, "for_min"), minutes or say.LEAST_REST_MIN, time, doubt)


def _way(draft: Draft, step: Field, kind: Field, key: KeyPath, *, first: bool) -> None:
    """By infusion only where the step brings water of its own; how much is worked out for the kettle."""
    water = step.child("amount")
    if str(kind.value) == "infusion" and not first and water is not None and measured(draft, water, units.VOLUME_L):
        draft.put(key, Way.INFUSION.value, kind)
        draft.note(water, Verdict.IGNORED, say.INFUSED)
        put(draft, ("mash", "infusion_c"), step.child("infuse_temperature"), units.TEMPERATURE_C)
        return
    plain = first or str(kind.value) == "temperature"
    draft.note(kind, Verdict.USED if plain else Verdict.DOUBTFUL, "a rest" if plain else say.HEATED)


def _thickness(draft: Draft, step: Field, grain_kg: float) -> None:
    amount = step.child("amount")
    litres = measured(draft, amount, units.VOLUME_L)
    if amount is not None and litres and grain_kg > 0.0:
        draft.put(("mash", "water_l_per_kg"), round(litres / grain_kg, 2), amount)


def _sparge(draft: Draft, step: Field) -> None:
    source = step.child("step_temperature")
    at_c = measured(draft, source, units.TEMPERATURE_C)
    if source is not None and at_c is not None:
        doubt = f"hotter than {SPARGE_MAX_C:g} °C: taken as that" if at_c > SPARGE_MAX_C else ""
        draft.put(("mash", "sparge_c"), min(at_c, SPARGE_MAX_C), source, doubt)


def _boil(draft: Draft) -> None:
    time = draft.recipe.child("boil", "boil_time")
    if time is None:
        draft.assume(("boil", "for_min"), say.USUAL_BOIL_MIN, draft.recipe, say.NO_BOIL)
    put(draft, ("boil", "for_min"), time, units.TIME_MIN)
    steps = draft.recipe.child("boil", "boil_steps")
    if steps is not None:
        say.leave_out(draft, steps, "steps of a boil are not known here: one boil of its whole time")


def _culture(draft: Draft) -> None:
    records = _additions(draft.recipe, "culture_additions")
    if not records:
        usual = {"name": "Ale yeast", "kind": "ale", "attenuation_percent": say.USUAL_ATTENUATION_PERCENT}
        draft.assume(("yeast",), usual, draft.recipe, say.NO_YEAST)
    for nth, record in enumerate(records):
        if nth:
            say.leave_out(draft, record, say.ONLY_FIRST)
            continue
        draft.sources[("yeast",)] = record
        name, kind = needed(draft, record, "name"), needed(draft, record, "type")
        if name is not None:
            text_into(draft, ("yeast", "name"), name)
        if kind is not None:
            doubt = "" if str(kind.value) in {"ale", "lager"} else "counted as an ale yeast"
            draft.put(("yeast", "kind"), "lager" if str(kind.value) == "lager" else "ale", kind, doubt)
        put(draft, ("yeast", "attenuation_percent"), record.child("attenuation"), units.PERCENT)
        cells = record.child("cell_count_billions")
        if cells is not None and (billion := number_of(draft, cells)) is not None:
            draft.put(("yeast", "cells_billion"), billion, cells)
    _pitch_c(draft)


def _pitch_c(draft: Draft) -> None:
    steps = draft.recipe.child("fermentation", "fermentation_steps")
    first = steps.children[0] if steps is not None and steps.children else None
    start = None if first is None else first.child("start_temperature")
    if put(draft, ("yeast", "pitch_c"), start, units.TEMPERATURE_C) is None and start is None:
        kind = draft.data.get("yeast", {}).get("kind", "ale")
        draft.assume(("yeast", "pitch_c"), say.PITCH_C[kind], draft.recipe, say.NO_PITCH_C.format(say.PITCH_C[kind]))
