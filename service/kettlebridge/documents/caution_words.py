"""What speaks against a brew sheet, in words: what is wrong, by how much, and what helps."""

from __future__ import annotations

from kettlebridge.brewing.cautions import Caution

CAUTION_WORDS: dict[str, str] = {
    "over_the_rim": "Does not fit: {litres:.1f} L in a kettle of {capacity_l:.1f} L. Brew less.",
    "basket_too_full": "The wet grain takes {bed_l:.1f} L, the basket holds about {basket_l:.1f} L. Brew less.",
    "element_bare": "The element would be bare: {litres:.1f} L at the lowest, {element_cover_l:.1f} L cover it.",
    "grain_dry": "{litres_per_kg:.1f} L to the kilogram do not even wet the grain. Brew less.",
    "strike_out_of_reach": "Strike water of {strike_c:.1f} °C is out of reach: at most {most_c:.1f} °C. Thin the mash.",
    "stand_over_boil": "A hop stand at {stand_c:.1f} °C is not below the boil, {boil_c:.1f} °C here.",
    "stronger_than_mash": "{plato:.1f} °P before the boil is stronger than this mash can be, {strongest_plato:.1f} °P.",
    "no_head_space": "Only {free_percent:.0f} % of the kettle is free at the first boil "
    "({hot_l:.1f} of {capacity_l:.1f} L): it may foam over. Stay with it, lid off, and have cold water at hand.",
    "odd_ratio": "{litres_per_kg:.1f} L to the kilogram is outside {low_l_per_kg:g} to {high_l_per_kg:g}.",
    "thicker_than_wished": "The kettle holds {litres_per_kg:.1f} L to the kilogram; {wished_l_per_kg:g} are wished.",
    "odd_absorption": "The kettle file says {absorption_l_per_kg:g} L/kg stay in the grain; {low_l_per_kg:g} to "
    "{high_l_per_kg:g} is plausible.",
    "gives_back": "Of {litres_per_kg:.1f} L to the kilogram {absorption_l_per_kg:g} stay in the grain: lifted, it "
    "gives back {share_percent:.0f} % of its water, where 80 to 85 % is usual.",
    "little_conversion": "Only {minutes:.0f} min between {low_c:g} and {high_c:g} °C: starch may stay unconverted.",
    "mash_out_hot": "A mash at {at_c:g} °C: above {most_c:g} °C it dissolves starch that nothing converts any more.",
    "strike_hot": "Strike water of {strike_c:.1f} °C scalds the grain that it meets first: pour slowly, stir at once.",
    "cleared_at": "A fining or nutrient goes in {minutes:g} min before the end of the boil; about 10 min is usual.",
    "boil_off_beyond_heater": "{boil_off_l_per_h:g} L/h are more than this element can boil off; "
    "the sheet counts with {most_l_per_h:.1f} L/h.",
    "cooling_water_warm": "Cooling water of {tap_c:g} °C brings the wort to within about {approach_c:g} °C of itself, "
    "not to {pitch_c:g} °C. Let the rest happen in a cold room before pitching.",
    "pitch_small": "{billion:.0f} billion cells are {rate:.2f} million per mL and °P; {needed_rate:g} are usual: "
    "{needed_billion:.0f} billion. Make a starter, or pitch more.",
    "gravity_differs": "The recipe says {wanted_sg:.3f}; here it comes to {original_sg:.3f}.",
    "bitterness_differs": "The recipe says {wanted_ibu:.0f} IBU; here it comes to {bitterness_ibu:.0f}.",
    "colour_differs": "The recipe says {wanted_ebc:.0f} EBC; here it comes to {colour_ebc:.0f}.",
}


def caution_words(caution: Caution) -> str:
    """One caution as a sentence or two."""
    return CAUTION_WORDS[caution.code].format(**dict(caution.values))
