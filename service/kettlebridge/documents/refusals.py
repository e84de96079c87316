"""Why a command was not taken, and what to do instead."""

from __future__ import annotations

from kettlebridge.documents.arming import ARMING_REFUSALS, Refused
from kettlebridge.documents.states import STATE_WORDS
from kettlebridge.documents.troubles import TRIP_WORDS
from kettlebridge.model.plan import COLDEST_GRAIN_C, HOTTEST_GRAIN_C

NOT_IN = "not_in_"
STILL = "still_"


REFUSAL_WORDS: dict[str, Refused] = ARMING_REFUSALS | {
    "seen_too_long_ago": Refused(why="Things have changed since you looked.", do="Look again, then decide."),
    "seen_in_another_batch": Refused(
        why="What you looked at was another batch, or an older life of this one.", do="Look again, then decide."
    ),
    "just_raised": Refused(why="Something else is being asked since a moment ago.", do="Read it, then confirm."),
    "hoses_first": Refused(
        why="This is hot, and the hoses are not confirmed.", do="Clamp the hose, secure the outlet, confirm that first."
    ),
    "no_grain_temperature": Refused(
        why="The profile does not say what grain its strike temperature is for.",
        do="Confirm without it; another target corrects the strike water.",
    ),
    "grain_out_of_range": Refused(
        why="No grain is kept at that.", do=f"Say it in °C, from {COLDEST_GRAIN_C:g} to {HOTTEST_GRAIN_C:g}."
    ),
    "drawn_enough": Refused(why="The pump has run for half a minute.", do="Let go, then begin again."),
    "nothing_left": Refused(why="There is no step left.", do="Begin a new batch."),
    "no_temperature": Refused(
        why="There is no fresh temperature from the control probe.",
        do="Look at the board and the probe, then try again.",
    ),
    "probes_disagree": Refused(
        why="Two probes in the same place differ by more than 2 °C.",
        do="Compare both in melting ice or cold water, and calibrate or change the one that is wrong.",
    ),
    "at_kettle_only": Refused(
        why="This needs somebody at the kettle.", do="Press the button there, or give the code that is posted there."
    ),
    "stop_still_pressed": Refused(
        why="The stop button is still pressed.", do="Let it out (turn it or pull it), then try again."
    ),
    "no_such_call": Refused(why="Nothing of that kind is being asked.", do="See what is asked with: status."),
    "litres_out_of_range": Refused(why="That amount of water makes no sense.", do="Give the litres again."),
    "nothing_measured": Refused(why="It was not said what was measured.", do="Give litres, a gravity or degrees Brix."),
    "gravity_out_of_range": Refused(
        why="No wort reads like that.", do="A hydrometer shows 0.980 to 1.180, a refractometer 0 to 32 °Brix."
    ),
    "sample_out_of_range": Refused(
        why="The reading cannot be corrected without its temperature.",
        do="Give it: 0 to 60 °C for a gravity, no hotter than the boil for litres.",
    ),
    "more_than_the_kettle_holds": Refused(why="The kettle does not hold that much.", do="Give the litres again."),
    "nothing_to_skip": Refused(why="No step has begun.", do="Start the day first."),
    "confirm_instead": Refused(why="This step waits for your hands.", do="Confirm it when it is done."),
    "addition_open": Refused(why="An addition waits to be confirmed.", do="Confirm it first."),
    "last_step": Refused(why="This is the last step.", do="Stop the batch to end it early."),
    "no_timer": Refused(why="This step has no time to change.", do="Wait for one that has."),
    "no_such_step": Refused(
        why="That step is over, or there is none of that number.", do="Name the one in hand or one to come."
    ),
    "minutes_out_of_range": Refused(
        why="That many minutes make no sense.", do="Give 1 to 240, or as many less than none."
    ),
    "no_target": Refused(why="This step has no temperature to change.", do="Wait for one that has."),
    "target_out_of_range": Refused(
        why="That temperature is not allowed in this step.",
        do="Give one from 5 to 90 °C, in a stand or a circulation to 98, and at least 1 °C under the boil.",
    ),
    "nothing_in_the_kettle": Refused(
        why="Nobody has said that there is anything in the kettle.", do="Confirm a filling first."
    ),
    "no_pump": Refused(why="This kettle has no pump.", do="Use its tap."),
    "hands_in": Refused(why="Hands may be in the kettle.", do="Confirm first that they are out."),
    "no_such_alarm": Refused(why="There is no such alarm.", do="See which there are with: status."),
    "queue_full": Refused(why="Too many commands came at once.", do="Wait a second and try again."),
    "restarted": Refused(why="This kettle's control had to begin again.", do="Look how things stand, then decide."),
    "closed": Refused(why="The service is ending.", do="Start it again."),
    "interrupted": Refused(why="The service was ending.", do="Start it again, then look how things stand."),
    "tick_failed": Refused(why="The service failed to decide; everything is off.", do="Look how things stand."),
    "unanswered": Refused(why="The service did not say what became of it.", do="Look how things stand."),
}
"""By reason code; those that name a state or a rule are made from their words."""


def refused(reason: str) -> Refused:
    """The words of a reason."""
    if reason.startswith(NOT_IN):
        state = next(state for state in STATE_WORDS if state.value.lower() == reason.removeprefix(NOT_IN))
        words = STATE_WORDS[state]
        return Refused(why=f"Not now: {words.name.lower()}.", do=words.meaning)
    if reason.startswith(STILL):
        trouble = TRIP_WORDS[reason.removeprefix(STILL)]
        return Refused(why=f"Not yet. {trouble.happened}", do=trouble.do)
    return REFUSAL_WORDS[reason]
