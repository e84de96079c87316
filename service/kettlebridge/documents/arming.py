"""Heating with nobody there, in words: why a kettle is not armed, and how far an arming has come."""

from __future__ import annotations

from dataclasses import dataclass

from kettlebridge.model.snapshot import Snapshot
from kettlebridge.ports import LocalTime


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """Two sentences."""

    why: str
    do: str


CHANGE_IT = "Pull the plug and have it changed. Do not heat with it."
THEN_ARM = "then arm again"

ARMING_REFUSALS: dict[str, Refused] = {
    "arm_file_not_judged": Refused(
        why="This batch was begun before kettles could be armed.", do="End it and begin a new one."
    ),
    "arm_relay_restores": Refused(
        why="A relay of this kettle may switch itself on after a power cut.",
        do="Set its node up to stay off, and say so in the kettle file.",
    ),
    "arm_lease_not_shown": Refused(
        why="The board that switches this heater cannot show that it drops it by itself.",
        do="Only a board on the serial line can be armed: be there when this one heats.",
    ),
    "arm_no_ready_time": Refused(
        why="This day has no time to be ready at.", do="Give the profile a ready_at, and begin anew."
    ),
    "arm_not_waiting": Refused(
        why="The water does not wait to be heated now.", do="Arm once it is filled, and before it heats."
    ),
    "arm_begun": Refused(why="It is armed, or being armed.", do="See how far it is with: status."),
    "arm_not_armed": Refused(why="It is not armed.", do="Nothing needs to be done: it stays cold by itself."),
    "arm_no_contactor": Refused(
        why="This kettle has no main contactor before the heater's own switch.",
        do="Be there when it heats: without one a stuck switch cannot be got rid of.",
    ),
    "arm_pumps": Refused(
        why="This step pumps, and a hose that comes off would empty the kettle.",
        do="Leave the pump out of the step, and begin anew.",
    ),
    "arm_no_water_alone": Refused(why="There is more than water in the kettle.", do="Be there when it heats."),
    "arm_no_litres": Refused(why="Nobody has said how much water is in it.", do="Fill, and confirm the litres."),
    "arm_not_covered": Refused(
        why="As little water as was confirmed does not cover the element.", do="Fill up, and say how much you add."
    ),
    "arm_too_late": Refused(why="The time to be ready at has passed.", do="Say that you are there, and heat now."),
    "arm_litres_too_old": Refused(
        why="What was said about the litres will be a day old before it is over.", do="Begin anew, and fill again."
    ),
    "arm_clock_adrift": Refused(
        why="No time service holds this machine's clock, so nobody knows when it is time.",
        do="Set up time synchronisation, wait until it says so, and try again.",
    ),
    "arm_no_board": Refused(why="The board is not there.", do=f"Look at its power and its cable, {THEN_ARM}."),
    "arm_something_on": Refused(
        why="Something of this kettle is on already.", do="See what holds it on; everything must be off first."
    ),
    "arm_alarm": Refused(why="There is an alarm.", do=f"See to it and clear it, {THEN_ARM}."),
    "arm_told": Refused(why="Somebody took it back.", do="Arm again if that was not meant."),
    "arm_list_unanswered": Refused(
        why="Nobody at the kettle confirmed the evening's list.", do="Arm again, and confirm it there."
    ),
    "arm_call_unanswered": Refused(
        why="Nobody answered the test call at the kettle.",
        do="See that the buzzer can be heard where you sleep, arm again, and answer it there.",
    ),
    "arm_heater_welded": Refused(
        why="The main contactor alone made heat: the heater's own switch is stuck closed.", do=CHANGE_IT
    ),
    "arm_contactor_welded": Refused(
        why="The heater's switch alone made heat: the main contactor is stuck closed.", do=CHANGE_IT
    ),
    "arm_contactor_silent": Refused(
        why="The board does not say that the main contactor does as it was told.",
        do=f"Look at the board and its wiring, {THEN_ARM}.",
    ),
    "arm_heater_silent": Refused(
        why="The board does not say that the heater's switch does as it was told.",
        do=f"Look at the board, its inputs and its wiring, {THEN_ARM}.",
    ),
    "arm_held_on": Refused(
        why="The board did not drop the heater when it heard nothing more: it must not be left alone.",
        do="Pull the plug, and use another board.",
    ),
    "arm_drop_unseen": Refused(
        why="It could not be seen in time that the board drops the heater by itself.",
        do=f"Look at the cable, {THEN_ARM}.",
    ),
    "arm_no_rejoin": Refused(
        why="The board did not come back after it had dropped everything.",
        do=f"Look at its power and its cable, {THEN_ARM}.",
    ),
    "arm_left_running": Refused(why="The day was paused.", do=f"Carry on at the kettle, {THEN_ARM}."),
    "arm_step_left": Refused(why="The water does not wait any more.", do="Nothing more needs to be armed."),
    "arm_clock_jumped": Refused(
        why="The machine's clock was set.", do=f"See that the time to be ready at is still right, {THEN_ARM}."
    ),
    "arm_liquid_changed": Refused(why="There is another amount in the kettle than when it was armed.", do="Arm again."),
    "arm_board_restarted": Refused(
        why="The board started anew.", do=f"Look at its power supply and cable, {THEN_ARM}."
    ),
}
"""Why an arming was refused, or ended; by code."""

NOT_ARMED = "not_armed"
"""The phase of an arming in which nothing heats by itself."""

PHASE_WORDS: dict[str, str] = {
    NOT_ARMED: "not armed",
    "list": "being armed: the evening's list waits to be confirmed at the kettle",
    "settle": "being armed: the water comes to rest first",
    "contactor_alone": "being armed: the main contactor is on alone and must make no heat",
    "contactor_off": "being armed: everything off for a moment",
    "heater_alone": "being armed: the heater's switch is on alone and must make no heat",
    "heater_off": "being armed: everything off for a moment",
    "contactor_first": "being armed: the main contactor goes before the heater",
    "drop": "being armed: the heater is on for a moment, and the board must drop it by itself",
    "rejoin": "being armed: the board has dropped everything and is asked again",
    "call": "being armed: the test call waits to be answered at the kettle",
    "armed": "armed",
}
"""How far it is, by an arming's phase."""


STANDING: dict[str, str] = {
    "armed": "Armed: it heats by itself {when}.",
    NOT_ARMED: "Not armed: it will not heat {when}.",
}
"""What becomes of it; `when` is when it begins, or for when it is to be hot."""


def stays_cold(snapshot: Snapshot) -> bool:
    """Whether a step waits for its time to heat, and will not heat at it with nobody there."""
    return snapshot.arming is not None and snapshot.arming.phase == NOT_ARMED


def progress(phase: str, reason: str | None) -> str:
    """What became of an arming just now."""
    if reason is None:
        words = PHASE_WORDS[phase]
        return f"{words[0].upper()}{words[1:]}."
    refused = ARMING_REFUSALS[reason]
    return f"Not armed. {refused.why} {refused.do}"


def by_itself(snapshot: Snapshot, time: LocalTime) -> str:
    """Whether it will heat by itself and from when, as a sentence; empty where nothing waits to."""
    arming, foreseen = snapshot.arming, snapshot.forecast
    if arming is None:
        return ""
    if arming.phase not in STANDING:
        return progress(arming.phase, None)
    when = f"for {time.hh_mm(arming.ready_at_utc_s)}"
    if foreseen is not None and foreseen.heats_from is not None:
        from_utc_s = snapshot.at_utc_s - snapshot.now_s + foreseen.heats_from.at_s
        when = f"at about {time.hh_mm(from_utc_s)}"
    words = STANDING[arming.phase].format(when=when)
    if arming.reason is None:
        return words
    refused = ARMING_REFUSALS[arming.reason]
    return f"{words} {refused.why} {refused.do}"
