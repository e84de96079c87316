"""A day with nothing but water, made of ordinary steps, from which a kettle's own figures can be read."""

from __future__ import annotations

from enum import Enum

from kettlebridge.model.kettle import Kettle
from kettlebridge.model.plan import AnyStep, AskKind, AskStep, BoilStep, HeatStep, Profile, Water

CALIBRATION = "calibration with water"
"""Name of the profile: by it a record is known as a calibration."""
WARM_C = 70.0
BOIL_MIN = 40.0
FILLED_FRACTION = 0.7
COVERS = 1.5
"""Times the element's cover, the least to be poured in: an hour of boiling must not lay it bare."""


class Part(Enum):
    """What is to be found; each may be left out."""

    PROBE = "probe"
    HEATER = "heater"
    LOSSES = "losses"
    BOIL_OFF = "boil_off"
    DEAD_SPACE = "dead_space"


ICE, FILL, WARM_UP, COOLING, BOIL, LITRES, EMPTY = (
    "ice bath",
    "water",
    "warming up",
    "cooling",
    "boil",
    "litres after the boil",
    "emptying",
)
"""Names of its steps, by which the record is read."""

ICE_TEXT = (
    "Take the control probe out and put it into a jug of crushed ice and a little water. Stir for three minutes, leave "
    "it in, and confirm. Put it back where it was afterwards."
)
FILL_TEXT = "Measure every litre. Lid on."
COOLING_TEXT = "Leave the lid on and the kettle alone. Confirm after forty minutes, or more."
LITRES_TEXT = (
    "Read the litres off the scale as the boil ends. Say them here as measured, which counts them as cold, or note "
    "them; then confirm."
)
EMPTY_TEXT = (
    "Drain it the way the wort goes. Then tip out what is left in kettle, hoses and chiller, measure that, note it, "
    "and confirm."
)
NEEDS: dict[str, frozenset[Part]] = {
    ICE: frozenset({Part.PROBE}),
    WARM_UP: frozenset({Part.HEATER, Part.LOSSES}),
    COOLING: frozenset({Part.LOSSES}),
    BOIL: frozenset({Part.PROBE, Part.BOIL_OFF}),
    LITRES: frozenset({Part.BOIL_OFF}),
    EMPTY: frozenset({Part.DEAD_SPACE}),
}
"""Which steps are there for what; those without a row are always there."""


def usual_litres(kettle: Kettle) -> float:
    """What is poured in where nobody says otherwise."""
    return max(round(FILLED_FRACTION * kettle.capacity_l, 1), COVERS * kettle.element_cover_l)


def is_calibration(profile: Profile) -> bool:
    """Whether a record of it can be read as one: by its name, and with nothing but water in the kettle."""
    return profile.name == CALIBRATION and not profile.water.grain_kg


def calibration_day(fill_l: float, parts: frozenset[Part]) -> Profile:
    """The profile that finds `parts`, from `fill_l` litres of cold water."""
    steps: tuple[AnyStep, ...] = (
        AskStep(name=ICE, what=AskKind.OTHER, text=ICE_TEXT),
        AskStep(name=FILL, what=AskKind.FILL, litres=fill_l, text=FILL_TEXT),
        HeatStep(name=WARM_UP, to_c=WARM_C),
        AskStep(name=COOLING, what=AskKind.OTHER, text=COOLING_TEXT),
        BoilStep(name=BOIL, for_min=BOIL_MIN),
        AskStep(name=LITRES, what=AskKind.OTHER, text=LITRES_TEXT),
        AskStep(name=EMPTY, what=AskKind.EMPTY, text=EMPTY_TEXT),
    )
    kept = tuple(step for step in steps if step.name not in NEEDS or NEEDS[step.name] & parts)
    return Profile(name=CALIBRATION, water=Water(fill_l=fill_l), steps=kept)
