"""A rescue in words: what was found, what becomes of it, and what mends it."""

from __future__ import annotations

from collections.abc import Iterator

from kettlebridge.brewing.rescue import Advice, Rescue

RESCUE_WORDS: dict[str, str] = {
    "mash_missed": "The mash stands at {found_c:.1f} °C; {wanted_c:.1f} °C is wanted.",
    "near_enough": "Within {within_c:g} °C: stir, measure in three places, and leave it.",
    "heat_pumped": "Heat it with the pump running: about {minutes:.0f} min to {wanted_c:.1f} °C.",
    "heat_stirred": "Heat it, stirring down to the floor all the while: about {minutes:.0f} min to {wanted_c:.1f} °C.",
    "no_room": "Water is no way: {litres:.1f} L of {water_c:.0f} °C would do it, and there is room for {room_l:.1f} L.",
    "water_off_the_sparge": "Stir in {litres:.1f} L of {water_c:.0f} °C, and sparge with {sparge_l:.1f} L instead.",
    "water_and_boil_longer": "Stir in {litres:.1f} L of {water_c:.0f} °C. Sparge with {sparge_l:.1f} L; {more_l:.1f} L "
    "more than planned stay to be boiled off.",
    "decoction": "Or take out {litres:.1f} L of it, grain and liquid alike ({percent:.0f} %), boil that in another "
    "pot, stirring all the while, and stir it back in.",
    "cold_unconverted": "Below about {gelatinised_c:.1f} °C starch dissolves badly: as long as it stays there, hardly "
    "anything is converted. The heater lifts it; count the rest from when it is reached.",
    "cold_drier": "{under_c:.1f} °C too cold makes a drier beer, and takes longer. The heater lifts it by itself.",
    "hot_sweeter": "It takes about {minutes:.0f} min to fall to its rest by itself: {over_c:.1f} °C too hot make a "
    "sweeter beer of less alcohol.",
    "hot_beta_gone": "At {gone_c:.0f} °C and more what makes wort fermentable dies within minutes, and it would take "
    "about {minutes:.0f} min to fall by itself. Cool it at once.",
    "stuck": "No wort runs through a bed of {litres_per_kg:.1f} L to the kilogram.",
    "runs_dry": "The pump empties the {below_l:.1f} L below the basket in about {minutes:.0f} min; under "
    "{element_cover_l:.1f} L in the kettle the element is bare. Stop the pump first, heater off.",
    "drains_slowly": "It may not drain at all: {below_l:.1f} L stand below the basket, {element_cover_l:.1f} L cover "
    "the element.",
    "stir_and_settle": "Heater and pump off. Stir to the floor, let it lie {minutes:.0f} min, then pump slowly.",
    "hulls": "Stir in {grams:.0f} g of rinsed rice hulls.",
    "before_the_boil": "{volume_l:.1f} L of {found_sg:.3f} before the boil; {planned_l:.1f} L of {planned_sg:.3f} were "
    "planned. That is {efficiency_percent:.0f} % efficiency.",
    "wort_measured": "{volume_l:.1f} L of {found_sg:.3f} are in the kettle. That is {efficiency_percent:.0f} % "
    "efficiency; {planned_percent:.0f} % were planned.",
    "volume_measured": "{volume_l:.1f} L are in the kettle. Its gravity without the grain was not measured, and is "
    "taken to be as planned.",
    "ends_as": "It comes to {comes} ({planned_l:.1f} L of {planned_sg:.3f} with {planned_ibu:.0f} IBU planned).",
    "boil_longer": "Boil {minutes:.0f} min longer; what still waits to go in waits for the new end: {comes}.",
    "boil_shorter": "Boil {minutes:.0f} min less, off the time before the next thing goes in: {comes}.",
    "sugar": "Dissolve {grams:.0f} g of sugar in it, heater off: {comes}.",
    "malt_extract": "Dissolve {grams:.0f} g of dry malt extract in it, heater off: {comes}.",
    "water": "Add {litres:.1f} L of boiled water at the end: {comes}.",
    "water_and_sugar": "For all of both, {litres:.1f} L of water and {grams:.0f} g of sugar: {comes}.",
    "hop_late": "It goes in {left_min:.0f} min before the end, {late_min:.0f} min late.",
    "less_bitter": "The beer has {short_ibu:.1f} IBU less: {beer_ibu:.0f}.",
    "more_hops": "Put in {grams:.0f} g more than the {planned_g:.0f} g planned; it smells more of it, too.",
    "boil_on": "Boil {minutes:.0f} min longer: that costs {litres:.1f} L. Later hops wait for the new end.",
    "went_over": "{lost_l:.1f} L went over, of about {there_l:.1f} L, {left_min:.0f} min before the end.",
}


COMES = (
    ("fermenter_l", "{:.1f} L"),
    ("original_sg", "of {:.3f} into the fermenter,"),
    ("final_sg", "down to {:.3f} with"),
    ("alcohol_percent", "{:.1f} % alcohol"),
    ("bitterness_ibu", "and {:.0f} IBU"),
)
"""What comes of a choice, in the order in which it is said; what is not known is left out."""


def rescue_words(advice: Advice) -> str:
    """One piece of advice as a sentence or two."""
    values = dict(advice.values)
    comes = " ".join(form.format(values[name]) for name, form in COMES if name in values)
    return RESCUE_WORDS[advice.code].format(**values, comes=comes)


def rescue_lines(rescue: Rescue) -> Iterator[str]:
    """All of it, a line for each."""
    yield rescue_words(rescue.found)
    for mend in rescue.mends:
        yield f"- {rescue_words(mend)}"
    yield f"If nothing is done: {rescue_words(rescue.unmended)}"
