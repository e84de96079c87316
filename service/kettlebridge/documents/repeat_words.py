"""What to know of a profile that was made from a batch."""

from __future__ import annotations

from kettlebridge.model.event import Scalar

NOTE_WORDS: dict[str, str] = {
    "ended_early": "The batch ended before {step} was done: from there on the profile is as it was planned.",
    "left_out": "{step} was left out that day, and is not in the profile.",
    "never_made": "{addition}, {grams:g} g, was never confirmed, and is not in the profile.",
    "held_else": "{step} was asked for at {at_c:g} °C and lay at {held_c:.1f} °C on average: the profile asks for the "
    "former.",
    "water_joined": "{litres:.1f} L were added by hand: they are part of the water that is poured in before.",
}
"""By the code of a note."""


def note_words(code: str, values: tuple[tuple[str, Scalar], ...]) -> str:
    """One note as a sentence."""
    return NOTE_WORDS[code].format(**dict(values))
