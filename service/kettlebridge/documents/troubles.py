"""What went wrong: what happened, how things stand now, and what to do."""

from __future__ import annotations

from dataclasses import dataclass

HEAT_OFF = "Heater and main contactor are off and the day is paused."
THEN_CARRY_ON = "then carry on at the kettle"


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """Three short sentences."""

    happened: str
    now: str
    do: str


TRIP_WORDS: dict[str, Trouble] = {
    "stale": Trouble(
        happened="The control probe has not been heard.",
        now=HEAT_OFF,
        do=f"Look at the probe's plug and cable and at the board, {THEN_CARRY_ON}.",
    ),
    "bad_streak": Trouble(
        happened="The control probe gave nothing but bad readings.",
        now=HEAT_OFF,
        do=f"Look for a loose or wet plug, {THEN_CARRY_ON}.",
    ),
    "mostly_bad": Trouble(
        happened="More than half of the control probe's readings were bad.",
        now=HEAT_OFF,
        do=f"Look for a loose or wet plug, {THEN_CARRY_ON}.",
    ),
    "over_set_point": Trouble(
        happened="It is well above the temperature that was asked for.",
        now=HEAT_OFF,
        do=f"If it still rises, pull the plug: a switch may be stuck. Else let it cool, {THEN_CARRY_ON}.",
    ),
    "over_limit": Trouble(
        happened="It is above this kettle's limit.",
        now="Heater and main contactor are off.",
        do="If it still rises, pull the plug: a switch may be stuck. Let it cool before anything else.",
    ),
    "held_for_nobody": Trouble(
        happened="It was kept hot for a long time and nobody came.",
        now=HEAT_OFF,
        do="When you are there, carry on at the kettle.",
    ),
    "never_there": Trouble(
        happened="It heated far longer than it should have needed.",
        now=HEAT_OFF,
        do=f"See whether the element heats and how much is in the kettle, {THEN_CARRY_ON}.",
    ),
}
"""By the code of the rule that tripped. Each is an alarm too."""

ALARM_WORDS: dict[str, Trouble] = TRIP_WORDS | {
    "link": Trouble(
        happened="The board does not answer.",
        now="It switches everything off by itself when it hears nothing.",
        do="Look at its power and its cable.",
    ),
    "no_fill": Trouble(
        happened="Nobody has said that there is enough in the kettle to cover the element.",
        now="The heater stays off.",
        do="Fill, and confirm how much.",
    ),
    "rest_hot": Trouble(
        happened="The mash is more than a degree too warm.",
        now="The heater is down; the time counts.",
        do="Stir, and add a little cold water if it does not fall. Say how much you added.",
    ),
    "twice_the_plan": Trouble(
        happened="This takes twice as long as it should.",
        now="It goes on heating for now.",
        do="See whether the element heats, whether the lid is on, and how much is in the kettle.",
    ),
    "unanswered": Trouble(
        happened="You were asked for something a while ago.",
        now="The day waits for you.",
        do="Do what is asked and confirm it.",
    ),
    "not_recorded": Trouble(
        happened="The record cannot be written.",
        now="The day goes on, but what happens now may be missing from the record.",
        do="See whether the disk is full.",
    ),
}
"""By an alarm's cause."""

CAUSE_WORDS: dict[str, str] = {code: words.happened for code, words in TRIP_WORDS.items()} | {
    "resumed": "The service was away and has come back.",
    "away": "The service was stuck for some seconds.",
    "tick failed": "The service failed to decide: this is a mistake in the program.",
}
"""Why a batch is paused, where that was no person."""


def why_paused(cause: str | None) -> str:
    """The reason as a sentence; a cause that is no code is whoever asked for it."""
    if cause is None:
        return ""
    return CAUSE_WORDS.get(cause, f"Asked for by: {cause}.")


PROBE_WORDS: dict[str, str] = {
    "no_answer": "does not answer",
    "bad_crc": "answers garbled",
    "line_short": "has a short circuit on its cable",
    "lost_power": "lost its power for a moment",
    "none_yet": "has no reading yet",
    "not_a_number": "gives something that is no number",
    "sensor_open": "has a broken lead: its module finds no sensor",
    "refused": "is refused by its module: the kettle file asks for something that it does not have",
    "no_value": "gives no value",
    "out_of_range": "gives an impossible temperature",
    "power_on_value": "gives the value that it has when it is switched on",
    "settling": "has just begun to tell; waiting until its readings agree",
    "jump": "jumped; waiting to see whether that is true",
}
"""By a probe's fault, as the rest of a sentence that begins with its name."""

LINK_WORDS: dict[str, Trouble] = {
    "no_port": Trouble(
        happened="The board's port cannot be used.",
        now="Nothing is switched.",
        do="See that the board is plugged in and that [bridge] port names it.",
    ),
    "port_in_use": Trouble(
        happened="Another program has the board's port.",
        now="Nothing is switched from here.",
        do="End the other program.",
    ),
    "no_answer": Trouble(
        happened="Nothing answers on the board's port.",
        now="Nothing is switched.",
        do="See that the board has power and that [bridge] port is the right one.",
    ),
    "no_broker": Trouble(
        happened="The MQTT broker cannot be reached.",
        now="Nothing is switched.",
        do="See that it runs and that host and port name it.",
    ),
    "node_away": Trouble(
        happened="A node does not answer over MQTT.",
        now="It switches everything off by itself.",
        do="Look at its power, at its network and at its topics in the kettle file.",
    ),
    "not_admitted": Trouble(
        happened="The MQTT broker does not let the service in.",
        now="Nothing is switched.",
        do="Look at user name, password and certificates, and at what the broker allows.",
    ),
    "unsafe": Trouble(
        happened="A relay could switch on by itself.",
        now="Nothing is switched from here.",
        do="Mend that first; the service tries again.",
    ),
    "other_board": Trouble(
        happened="Another board answers than the kettle file names.",
        now="It was not touched.",
        do="Change the cable, or [bridge] board_id if this is the right one.",
    ),
    "other_version": Trouble(
        happened="The board speaks another version of the protocol.",
        now="It was not touched.",
        do="Give board and service versions that fit.",
    ),
    "busy": Trouble(
        happened="The board obeys another service.",
        now="It was not touched.",
        do="End the other service.",
    ),
    "not_simulated": Trouble(
        happened="The board does not say that it is simulated, so time cannot be hurried.",
        now="It was not touched.",
        do="Leave out --speed.",
    ),
    "lost": Trouble(
        happened="The board was lost.",
        now="It switches everything off by itself.",
        do="Look at its power and its cable; the service tries again.",
    ),
    "lapsed": Trouble(
        happened="The board gave up the session: it had heard nothing in time.",
        now="Everything is off.",
        do="The service begins a new session.",
    ),
}
"""By the reason why there is no session with a board."""
