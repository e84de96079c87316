"""How a fermentation stands, in words."""

from __future__ import annotations

from kettlebridge.brewing.fermentation import DAYS_APART, Ferment

FERMENT_WORDS: dict[Ferment, str] = {
    Ferment.UNKNOWN: "Two readings at least are needed to say how it stands.",
    Ferment.FALLING: "Still fermenting. Wait, and measure again.",
    Ferment.RISING: "The gravity has risen, which no beer does: one of the readings is wrong. Measure again.",
    Ferment.TOO_SOON: f"Equal so far. Measure once more when {DAYS_APART:g} days lie between.",
    Ferment.STUCK: "Equal, but well above what this yeast was to reach: it may go on in the bottle, and burst it. "
    "Warm and rouse it, and wait.",
    Ferment.READY: f"Ready to package: equal over {DAYS_APART:g} days.",
}
