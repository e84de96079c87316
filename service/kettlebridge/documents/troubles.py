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
    "beyond_told": Trouble(
        happened="The board has something switched on that it was not told to.",
        now="Everything is told off and the day is paused.",
        do="End any other program or person that switches the board. If it stays on, pull the plug: an output "
        "is stuck.",
    ),
    "below_told": Trouble(
        happened="The board keeps something switched off that it was told to switch on.",
        now="Everything is told off and the day is paused.",
        do="See what acts there: the stop button, the kettle's own cut-out, a level switch, a loose wire to a relay. "
        "Mend it, then carry on at the kettle.",
    ),
    "lost_board": Trouble(
        happened="The board that switches the heater is away.",
        now="It switches everything off by itself, and the day is paused.",
        do=f"Look at its cable or its network and its supply, {THEN_CARRY_ON}.",
    ),
    "frozen": Trouble(
        happened="The control probe repeats one value although it should have changed.",
        now=HEAT_OFF,
        do=f"Unplug and plug the probe, or change it, {THEN_CARRY_ON}.",
    ),
    "no_heat": Trouble(
        happened="It hardly warms although the heater is on.",
        now=HEAT_OFF,
        do="See whether the kettle's own cut-out has acted, then the plug and the fuse. If the cut-out acted, "
        f"look for a scorched base before you reset it, {THEN_CARRY_ON}.",
    ),
    "low_fill": Trouble(
        happened="It warms faster than it can with as much in it as was confirmed.",
        now=HEAT_OFF,
        do="See how much is in the kettle and that the element is covered. Say how much water you add, "
        f"{THEN_CARRY_ON}.",
    ),
    "weld": Trouble(
        happened="Heat came that nobody asked for: the heater's switch is stuck closed.",
        now="Heater and main contactor are off.",
        do="Pull the plug and have the switch changed. Do not brew on with it.",
    ),
    "both_welded": Trouble(
        happened="It is still heated although everything is off: both switches are stuck.",
        now="Nothing here can switch it off.",
        do="Pull the plug now.",
    ),
    "over_budget": Trouble(
        happened="It took far more energy than this step needs.",
        now=HEAT_OFF,
        do=f"Look for a leak, an open lid, a draught, or a probe out of the liquid, {THEN_CARRY_ON}.",
    ),
    "bed_stuck": Trouble(
        happened="What comes back from the grain is far colder than what goes in: the bed may be stuck.",
        now="Pump, heater and main contactor are off and the day is paused.",
        do=f"Stir, let it stand for five minutes, begin gently, {THEN_CARRY_ON}.",
    ),
    "fell_out": Trouble(
        happened="The control probe fell by some degrees within half a minute.",
        now=HEAT_OFF,
        do=f"See whether the probe slipped out of the liquid, or say how much you poured in, {THEN_CARRY_ON}.",
    ),
    "apart": Trouble(
        happened="Two probes in the same place differ by more than 5 °C.",
        now=HEAT_OFF,
        do=f"Measure with a third thermometer, unplug the wrong one, {THEN_CARRY_ON}.",
    ),
    "no_flow": Trouble(
        happened="The pump runs and nothing flows.",
        now="Pump, heater and main contactor are off and the day is paused.",
        do=f"Look for a shut valve, air or grain in the pump, {THEN_CARRY_ON}.",
    ),
    "level_low": Trouble(
        happened="The level switch says that the element may be bare.",
        now="Pump, heater and main contactor are off and the day is paused.",
        do="If there is enough in the kettle, the bed is stuck: stir, wait five minutes, begin gently. Else add "
        f"water and say how much, {THEN_CARRY_ON}.",
    ),
    "cut_out": Trouble(
        happened="The kettle's own cut-out has acted.",
        now=HEAT_OFF,
        do=f"Let it cool, look for a scorched base, reset it by hand, {THEN_CARRY_ON}.",
    ),
    "board_restarts": Trouble(
        happened="The board has started anew three times in ten minutes.",
        now="Everything is off and the day is paused.",
        do="Look at its power supply and cable. It may be carried on with once it has been calm for ten minutes.",
    ),
    "stray_flow": Trouble(
        happened="Something flows although no pump was told to run.",
        now=HEAT_OFF,
        do=f"See whether the pump runs by itself or a tap is open, {THEN_CARRY_ON}.",
    ),
    "boil_dry": Trouble(
        happened="It has boiled down nearly to the element.",
        now=HEAT_OFF,
        do="Add water and say how much, or end the boil.",
    ),
}
"""By the code of the rule that tripped. Each is an alarm too."""

ALARM_WORDS: dict[str, Trouble] = TRIP_WORDS | {
    "level_dry": Trouble(
        happened="The level switch has not seen the liquid that was confirmed.",
        now="The heater waits for it.",
        do="See how much is in the kettle, and whether the switch hangs or its plug is out.",
    ),
    "foam": Trouble(
        happened="Foam stands at the rim.",
        now="The board has dropped the heater; it comes back when the foam has fallen.",
        do="Spray cold water on it, stir, and take the lid off.",
    ),
    "link": Trouble(
        happened="The board does not answer.",
        now="It switches everything off by itself when it hears nothing.",
        do="Look at its power and its cable.",
    ),
    "no_fill": Trouble(
        happened="Nobody has said that there is enough in the kettle to cover the element.",
        now="The heater stays off.",
        do="Pour in what is missing and say that water goes in. A filling counts for a day: after that end this"
        " batch, and begin anew.",
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
    "stays_cold": Trouble(
        happened="It was to heat by itself, and it is not armed.",
        now="It stays cold.",
        do="Arm it again, or come to the kettle and say that you are there.",
    ),
    "heat_stopped": Trouble(
        happened="All heat was stopped, and the batch was ended after that.",
        now="Nothing heats until somebody at the kettle begins.",
        do="See at the kettle why it was stopped. When all is well, begin there.",
    ),
    "not_recorded": Trouble(
        happened="The record cannot be written.",
        now="The day goes on, but what happens now may be missing from the record.",
        do="See whether the disk is full.",
    ),
}
"""By an alarm's cause."""

OVER_WORDS: dict[str, str] = {
    "level_dry": "The level switch did not see the liquid that was confirmed, and sees it now.",
    "foam": "Foam stood at the rim, and has fallen.",
    "link": "The board did not answer for a while, and answers again.",
    "no_fill": "The heater waited for a word that there is enough in the kettle; it waits no more.",
    "rest_hot": "The mash was more than a degree too warm, and is no more.",
    "twice_the_plan": "Something took twice as long as it should have, and is over.",
    "unanswered": "You were asked for something that nobody answered for a while.",
    "stays_cold": "It was to heat by itself and was not armed; that is settled.",
    "not_recorded": "The record could not be written for a while, and is written again.",
}
"""By the cause of an alarm that ends by itself: what was, once it is over. There is nothing to do about it."""

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
        happened="The board does not say that it is simulated: no hurried time.",
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
