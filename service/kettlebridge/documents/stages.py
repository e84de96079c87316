"""What is going on inside a step, as the middle of a sentence."""

from __future__ import annotations

from kettlebridge.model.plan import StepKind

STAGE_WORDS: dict[tuple[StepKind, str], str] = {
    (StepKind.HEAT, "wait"): "waiting until it is time to heat",
    (StepKind.HEAT, "heat"): "heating",
    (StepKind.HEAT, "hot_hold"): "hot, and kept so until you are there",
    (StepKind.ASK, "begin"): "your turn",
    (StepKind.ASK, "hands_in"): "your turn, everything is off",
    (StepKind.ASK, "hands_out"): "everything stays off until your hands are out",
    (StepKind.ASK, "announce"): "heat and pump may come back in a moment",
    (StepKind.ASK, "ask"): "your turn",
    (StepKind.REST, "settle"): "the bed settles, heat and pump off",
    (StepKind.REST, "ramp"): "on its way to the rest",
    (StepKind.REST, "hold"): "resting",
    (StepKind.BOIL, "climb"): "on its way to the boil",
    (StepKind.BOIL, "stand_by"): "kept just under the boil until you are there",
    (StepKind.BOIL, "approach"): "about to boil, stay with it",
    (StepKind.BOIL, "boil"): "boiling",
    (StepKind.BOIL, "wrap"): "boiled, heat off, finishing what is left",
    (StepKind.HOP_STAND, "cool"): "cooling down to the hop stand",
    (StepKind.HOP_STAND, "stand"): "steeping",
    (StepKind.HOP_STAND, "wrap"): "steeped, finishing what is left",
    (StepKind.CIRCULATE, "hoses"): "waiting for the hoses",
    (StepKind.CIRCULATE, "ramp"): "warming up, pump running",
    (StepKind.CIRCULATE, "circulate"): "going round",
    (StepKind.CHILL, "begin"): "heat off",
    (StepKind.CHILL, "start"): "heat off, waiting for the cooling water",
    (StepKind.CHILL, "fall"): "cooling",
    (StepKind.CHILL, "reached"): "cold enough",
    (StepKind.CHILL, "hoses"): "heat off, waiting for the hoses",
    (StepKind.CHILL, "transfer"): "running through the chiller into the fermenter",
}
"""Every stage of every kind of step. A stage without words here fails the tests."""

STAYS_COLD = "not armed, it stays cold until you are there"
"""In place of a stage's words, where it waits for its time and will not heat at it."""

COMING_BACK = "coming back to the boil"
FOAMS_AGAIN = "It may foam again when it boils: stay with it, lid off. The time waits until then."
"""In place of a boil's words, and beside them, where it boiled and does not now."""
