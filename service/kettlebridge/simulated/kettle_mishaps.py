"""Faults of kettle, probes, board and cable that a brewer can mend, in a brewer's words: those of a practice day."""

from __future__ import annotations

from dataclasses import dataclass

from kettlesim.faults.rig import CableRig
from kettlesim.faults.table import Fault, on_a_wire

HEATING = ("heat", "heat")
MASH = ("rest", "hold")
CLIMB = ("boil", "climb")
BOIL = ("boil", "boil")


@dataclass(frozen=True, slots=True, kw_only=True)
class KettleMishap:
    """A row: what `fault` is to somebody who stands there, what they can `do`, and what is so once it is `mended`.

    `moments` are the (kind of step, stage) in which it may come. `hard`: its remedy is a spare part and a plug to
    pull, and no day should go on without having thought about it.
    """

    fault: Fault[CableRig]
    happened: str
    do: str
    mended: str
    moments: tuple[tuple[str, str], ...] = (HEATING,)
    hard: bool = False


KETTLE_MISHAPS: tuple[KettleMishap, ...] = (
    KettleMishap(
        fault=on_a_wire("probe-silent"),
        happened="The plug of the control probe came out.",
        do="Push it in again.",
        mended="The probe's plug is in again.",
        moments=(HEATING, MASH, CLIMB),
    ),
    KettleMishap(
        fault=on_a_wire("probe-power-on"),
        happened="The control probe lost its supply for a moment and tells 85 °C since.",
        do="Unplug it and plug it in again.",
        mended="The probe was unplugged and plugged in again.",
        moments=(HEATING, MASH),
    ),
    KettleMishap(
        fault=on_a_wire("probe-mostly-bad"),
        happened="Water crept into the plug of the control probe: three readings in four are none.",
        do="Dry the plug.",
        mended="The probe's plug is dry.",
        moments=(HEATING, MASH, CLIMB),
    ),
    KettleMishap(
        fault=on_a_wire("probe-frozen"),
        happened="The control probe hangs: it repeats one value.",
        do="Unplug it and plug it in again, or change it.",
        mended="Another control probe is in.",
    ),
    KettleMishap(
        fault=on_a_wire("probe-in-air"),
        happened="The control probe slipped out of the liquid.",
        do="Push it in again, and clamp it.",
        mended="The probe is in the liquid again.",
    ),
    KettleMishap(
        fault=on_a_wire("twin-drifts"),
        happened="The second probe beside the control probe drifts away.",
        do="Measure with a third thermometer, and change the wrong one.",
        mended="Another second probe is in.",
        moments=(HEATING, MASH),
    ),
    KettleMishap(
        fault=on_a_wire("no-mains"),
        happened="Somebody pulled the kettle's plug.",
        do="Plug it in again.",
        mended="The kettle is plugged in again.",
        moments=(HEATING, CLIMB),
    ),
    KettleMishap(
        fault=on_a_wire("link-lost"),
        happened="Somebody tripped over the board's cable: it is out.",
        do="Put it in again.",
        mended="The board's cable is in again.",
        moments=(HEATING, MASH, CLIMB, BOIL),
    ),
    KettleMishap(
        fault=on_a_wire("cable-loose"),
        happened="The board's cable hangs loose: few words come through.",
        do="Push the plug home.",
        mended="The board's cable sits firmly.",
        moments=(HEATING, MASH, CLIMB, BOIL),
    ),
    KettleMishap(
        fault=on_a_wire("board-restarts"),
        happened="The board's power supply gives way again and again: it starts anew each time.",
        do="Change the power supply. The board must have been calm for ten minutes before the day goes on.",
        mended="The board has another power supply.",
        moments=(HEATING, MASH),
    ),
    KettleMishap(
        fault=on_a_wire("pump-stops"),
        happened="Grain stopped the pump.",
        do="Clear the pump.",
        mended="The pump is clear.",
        moments=(MASH,),
    ),
    KettleMishap(
        fault=on_a_wire("bed-stuck"),
        happened="The grain bed set: nothing runs through it.",
        do="Stir, and let it stand for five minutes.",
        mended="The bed was stirred, and lets the stream through.",
        moments=(MASH,),
    ),
    KettleMishap(
        fault=on_a_wire("level"),
        happened="The float of the level switch hangs low, though there is enough in the kettle.",
        do="See how much is in the kettle, then free the float.",
        mended="The float swims.",
        moments=(HEATING, CLIMB),
    ),
    KettleMishap(
        fault=on_a_wire("cut-out"),
        happened="The kettle's own cut-out acted.",
        do="Let it cool, look for a scorched base, reset it by hand.",
        mended="The cut-out is reset.",
        moments=(HEATING, CLIMB),
    ),
    KettleMishap(
        fault=on_a_wire("heater-welded"),
        happened="The heater's switch sticks: it heats whatever is asked for.",
        do="Pull the plug, and put another switch in.",
        mended="The plug was pulled, and the heater has another switch.",
        moments=(MASH,),
        hard=True,
    ),
    KettleMishap(
        fault=on_a_wire("output-stuck"),
        happened="An output of the board stays on by itself.",
        do="Pull the plug, and put another board in.",
        mended="The plug was pulled, and another board is in.",
        moments=(MASH,),
        hard=True,
    ),
)
