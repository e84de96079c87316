"""What is asked of the brewer: what to do, and what to beware of, short enough to read with wet hands."""

from __future__ import annotations

from dataclasses import dataclass

from kettlebridge.documents.amounts import litres, weight
from kettlebridge.model.plan import AskKind, Plan
from kettlebridge.model.snapshot import CallView

ASK = "ask"
SPARGE_WATER = "sparge_water"
WATER_KG_PER_L = 1.0

SCALD = "Wort this hot burns skin within seconds: long gloves, closed shoes."
STEAM = "Steam burns too: open the lid away from you."
CLAMPED = "A hose that slips off sprays scalding liquid."


@dataclass(frozen=True, slots=True, kw_only=True)
class CallWords:
    """`do` is the order, with `{subject}` and `{amount}` where they belong. `answer` is what a confirmation says."""

    do: str
    answer: str
    caution: str = ""


CALL_WORDS: dict[str, CallWords] = {
    "hands_clear": CallWords(
        do="Hands, tools and faces out of the kettle? Say so at the kettle.",
        answer="hands are clear",
        caution="Heat and pump come back five seconds after you say so.",
    ),
    "present": CallWords(do="The water is hot. Come to the kettle.", answer="I am there"),
    "sparge_water": CallWords(
        do="Put on the sparge water now{amount}: it is wanted when the basket is lifted.",
        answer="the sparge water is on",
        caution="A pot of hot water within reach of children is the commonest scald of a brew day.",
    ),
    "stand_by": CallWords(
        do="Come to the kettle and take the lid off; it boils soon after you say so. Have a spray bottle at hand.",
        answer="I am at the kettle and the lid is off",
        caution=f"The first boil foams up fast: stay until it has fallen back. {STEAM}",
    ),
    "boiling": CallWords(
        do="Is it boiling, bubbles breaking all over? Say so at the kettle when it is.",
        answer="it boils",
        caution=STEAM,
    ),
    "hoses": CallWords(
        do="Clamp every hose, see that the outlet cannot move, open the valves.",
        answer="the hoses are clamped and the outlet is secured",
        caution=f"Hot liquid comes out of the pump. {CLAMPED}",
    ),
    "addition": CallWords(
        do="Put in {subject}{amount}.",
        answer="it is in",
        caution="Boiling wort may foam up when something goes in: a little at a time, face away.",
    ),
    "dissolved": CallWords(
        do="Stir {subject} until none is left on the bottom; the heater waits for that.",
        answer="it is dissolved",
        caution=f"Sugar on a hot element burns. {SCALD}",
    ),
    "rest_below": CallWords(
        do="The rest has been too cold for a while. Count the time anyway, give it longer, or see what keeps it cold.",
        answer="count the time",
    ),
    "cool": CallWords(
        do="Turn on the cooling water. Nothing needs confirming: it ends by itself.", answer="the cooling water is on"
    ),
    "chiller_on": CallWords(
        do="Put the chiller in and turn on the cooling water.",
        answer="the cooling water runs",
        caution="What leaves the chiller is scalding at first: secure that hose.",
    ),
    "chilled": CallWords(do="Cold enough. Turn off the cooling water.", answer="the cooling water is off"),
    "evening_list": CallWords(
        do="It is to heat with nobody there. At the kettle: water alone in it{amount} and the element covered, lid on, "
        "every valve closed, nothing on it or around it that could burn. Say so at the kettle.",
        answer="all of that is so",
        caution="Children and animals must not get near it until you are back. Tests follow, some minutes long, in "
        "which its switches click: hands off.",
    ),
    "test_call": CallWords(
        do="This is the test call: only if somebody hears and answers it may it heat alone. Answer at the kettle.",
        answer="I hear it",
    ),
    "cold": CallWords(
        do="It is time to heat, but it is not armed and stays cold. It heats once you say at the kettle that you are "
        "there.",
        answer="I am there: heat now",
        caution="Lid on, valves closed, the element covered?",
    ),
    "transferred": CallWords(
        do="The wort runs into the fermenter. Say so when it is all across, and turn off the cooling water.",
        answer="it is all across",
        caution=CLAMPED,
    ),
}
"""Every kind of call but the asks of a profile."""

ASK_WORDS: dict[AskKind, CallWords] = {
    AskKind.FILL: CallWords(
        do="Close the tap and pour in{amount}. If it was another amount, say how much.", answer="it is filled"
    ),
    AskKind.DOUGH_IN: CallWords(
        do="Stir in the grain{amount}, slowly, until no lump is left.",
        answer="the grain is in",
        caution=f"Heater and pump are off while your hands are in. {SCALD}",
    ),
    AskKind.STIR: CallWords(
        do="Stir the mash from the bottom up.",
        answer="it is stirred",
        caution=f"Heater and pump are off while your hands are in. {SCALD}",
    ),
    AskKind.INFUSE: CallWords(
        do="Pour in hot water{amount}, stirring from the bottom up. If it was another amount, say how much.",
        answer="the water is in",
        caution=f"Heater and pump are off while your hands are in. Carry no open pot of hot water. {SCALD}",
    ),
    AskKind.LIFT: CallWords(
        do="Lift the basket{amount} and set it safely above the kettle.",
        answer="the basket hangs safely",
        caution=f"It is heavy and it drips: two people or a hoist, nobody below. {SCALD}",
    ),
    AskKind.SPARGE: CallWords(
        do="Rinse the grain with hot water{amount}, a ladle at a time.", answer="it is rinsed", caution=SCALD
    ),
    AskKind.DRAIN: CallWords(do="Let the basket drain. Do not squeeze it.", answer="it has drained"),
    AskKind.BASKET_AWAY: CallWords(
        do="Carry the basket away from over the kettle; the climb to the boil begins when you say so.",
        answer="the basket is away",
        caution="Hot drips on the floor are slippery.",
    ),
    AskKind.PITCH: CallWords(do="Wort into the fermenter, gravity measured, yeast in.", answer="the yeast is in"),
    AskKind.EMPTY: CallWords(
        do="Let everything out of the kettle.",
        answer="it is empty",
        caution="Feel how hot it is before you open a tap.",
    ),
    AskKind.OTHER: CallWords(do="Something for you to do.", answer="it is done"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A call as it is read: what to do, what else the profile says of it, what to beware of, and where to answer."""

    do: str
    text: str
    caution: str
    answer: str
    at_kettle: bool


def asked(call: CallView, plan: Plan | None = None) -> Asked:
    """The words of an open call. With the plan, a lift says how heavy it is."""
    words = ASK_WORDS[AskKind(call.subject)] if call.kind == ASK else CALL_WORDS[call.kind]
    return Asked(
        do=words.do.format(subject=call.subject, amount=_how_much(call, plan)),
        text=call.text,
        caution=words.caution,
        answer=words.answer,
        at_kettle=call.at_kettle,
    )


def _how_much(call: CallView, plan: Plan | None) -> str:
    if call.kind == ASK and call.subject == AskKind.LIFT.value:
        return "" if plan is None else f", about {weight(drained_kg(plan))} once it has drained and more before,"
    if call.kind == SPARGE_WATER:
        return "" if plan is None else f", {litres(plan.profile.water.sparge_l)} to {plan.profile.water.sparge_c:g} °C"
    if call.litres is not None:
        return f" {litres(call.litres)}" if call.subject == AskKind.FILL.value else f", {litres(call.litres)} in all"
    if call.kg is not None:
        return f", {weight(call.kg)}"
    return " the water" if call.subject == AskKind.FILL.value else ""


def drained_kg(plan: Plan) -> float:
    """Basket, grain and the water that the grain keeps, taken at a kilogram a litre."""
    grain_kg = plan.profile.water.grain_kg
    kept_kg = grain_kg * plan.kettle.grain_absorption_l_per_kg * WATER_KG_PER_L
    return plan.kettle.basket_kg + grain_kg + kept_kg
