"""Faults as a table: what each does and what undoes it, from when on, and what else shows it.

By what they need hands on: `AT_THE_KETTLE` any rig can have, `IN_A_DAY` also the brewer and the host of a day without
a wire, `ON_A_WIRE` also a cable. Those of the wire's bytes, the process and the disk are `ELSEWHERE`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, TypeVar

from kettlesim.faults import acts
from kettlesim.faults.rig import CableRig, DayRig, Rig

R_contra = TypeVar("R_contra", contravariant=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault(Generic[R_contra]):
    """A row, for rigs of that kind.

    `begins`: (kind of step, of an ask what is asked; stage) of a brew day in which it begins by itself, `after_s` into
    it. `act` is done once a
    second from then on, with the seconds since: a second time it must do no more. `mend` is what a brewer with a spare
    part does. `rules` are the codes that may end it, soonest first. `needs` are the fittings without which it means
    nothing: a role of a probe, an input, `pump`, `main_contactor`.
    """

    name: str
    promise: int
    what: str
    act: Callable[[R_contra, float], None]
    mend: Callable[[R_contra], None] = acts.over_by_itself
    begins: tuple[str, str] = ("heat", "heat")
    after_s: float = 200.0
    rules: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Elsewhere:
    """One that no rig can have: `test` names what injects it."""

    name: str
    promise: int
    what: str
    test: str


HOLD = ("rest", "hold")
RINSING = ("sparge", "ask")
LIFTING = ("lift", "hands_in")
NAN_LIKE_C = -127.0


def _hot(read_c: float, since_s: float) -> float:
    return read_c + 0.1 * since_s


AT_THE_KETTLE: tuple[Fault[Rig], ...] = (
    Fault(
        name="element-open",
        promise=16,
        what="the element's wire is broken",
        act=acts.open_element,
        mend=acts.whole_element,
        rules=("no_heat",),
    ),
    Fault(
        name="no-mains",
        promise=16,
        what="the heater has no mains",
        act=acts.cut_mains,
        mend=acts.give_mains,
        rules=("no_heat",),
    ),
    Fault(
        name="half-drained",
        promise=17,
        what="half of the liquid runs out unseen before it is heated",
        act=acts.drain,
        mend=acts.fill_up,
        after_s=1.0,
        rules=("low_fill",),
    ),
    Fault(
        name="heater-welded",
        promise=18,
        what="the heater's switch sticks in a hold",
        act=acts.welded("heater"),
        mend=acts.unwelded("heater"),
        begins=HOLD,
        after_s=300.0,
        rules=("weld", "over_set_point"),
        needs=("main_contactor",),
    ),
    Fault(
        name="heater-welded-heating",
        promise=18,
        what="the heater's switch sticks on the way up",
        act=acts.welded("heater"),
        mend=acts.unwelded("heater"),
        begins=("rest", "ramp"),
        after_s=20.0,
        rules=("weld", "over_set_point", "hot_heating"),
        needs=("main_contactor",),
    ),
    Fault(
        name="both-welded",
        promise=19,
        what="heater and main contactor stick",
        act=acts.welded("heater", "contactor"),
        mend=acts.unwelded("heater", "contactor"),
        begins=HOLD,
        after_s=300.0,
        rules=("both_welded",),
        needs=("main_contactor",),
    ),
    Fault(
        name="both-welded-by-hand",
        promise=19,
        what="heater and main contactor stick while the basket is lifted",
        act=acts.welded("heater", "contactor"),
        mend=acts.unwelded("heater", "contactor"),
        begins=LIFTING,
        after_s=30.0,
        rules=("both_welded",),
        needs=("main_contactor",),
    ),
    Fault(
        name="output-stuck",
        promise=7,
        what="the board's heater output stays on",
        act=acts.stick_heater,
        mend=acts.free_heater,
        begins=HOLD,
        after_s=300.0,
        rules=("beyond_told",),
    ),
    Fault(
        name="probe-silent",
        promise=8,
        what="the probe is unplugged",
        act=acts.changed(lambda c, s: None),
        mend=acts.sound(),
        rules=("stale",),
    ),
    Fault(
        name="probe-garbage",
        promise=9,
        what="the probe tells -127 °C",
        act=acts.changed(lambda c, s: NAN_LIKE_C),
        mend=acts.sound(),
        rules=("bad_streak", "stale"),
    ),
    Fault(
        name="probe-power-on",
        promise=9,
        what="the probe tells 85 °C",
        act=acts.changed(lambda c, s: 85.0),
        mend=acts.sound(),
        rules=("bad_streak", "stale"),
    ),
    Fault(
        name="probe-mostly-bad",
        promise=9,
        what="one reading in four is one",
        act=acts.changed(lambda c, s: c if int(s) % 4 == 0 else NAN_LIKE_C),
        mend=acts.sound(),
        rules=("mostly_bad", "stale", "bad_streak"),
    ),
    Fault(
        name="probe-frozen",
        promise=10,
        what="the probe repeats one value",
        act=acts.frozen,
        mend=acts.sound(),
        rules=("no_heat", "frozen"),
    ),
    Fault(
        name="probe-in-air",
        promise=11,
        what="the probe falls out of the liquid",
        act=acts.in_air,
        mend=acts.sound(),
        after_s=600.0,
        rules=("fell_out", "bad_streak", "stale", "no_heat"),
    ),
    Fault(
        name="probe-in-air-rinsing",
        promise=11,
        what="the probe falls out of wort that is kept warm for the rinsing",
        act=acts.in_air,
        mend=acts.sound(),
        begins=RINSING,
        after_s=90.0,
        rules=("fell_out", "bad_streak", "stale", "over_budget"),
    ),
    Fault(
        name="twin-drifts",
        promise=12,
        what="the second probe in the place drifts away",
        act=acts.changed(lambda c, s: c - min(0.1 * s, 8.0), "same_place"),
        mend=acts.sound("same_place"),
        rules=("apart",),
        needs=("same_place",),
    ),
    Fault(
        name="probe-climbs",
        promise=20,
        what="the probe reads ever more in a hold",
        act=acts.changed(_hot),
        mend=acts.sound(),
        begins=HOLD,
        after_s=300.0,
        rules=("over_set_point", "weld"),
    ),
    Fault(
        name="heat-leaks",
        promise=21,
        what="the kettle loses far more heat than its file says",
        act=acts.leak_heat,
        mend=acts.keep_heat,
        begins=HOLD,
        after_s=60.0,
        rules=("over_budget", "never_there", "no_heat"),
        needs=("pump",),
    ),
    Fault(
        name="pump-stops",
        promise=24,
        what="the pump stops in a mash, a flow switch sees it",
        act=acts.block_pump,
        mend=acts.clear_pump,
        begins=HOLD,
        after_s=300.0,
        rules=("no_flow",),
        needs=("pump", "flow"),
    ),
    Fault(
        name="cut-out",
        promise=41,
        what="the kettle's own cut-out acts and says so",
        act=acts.pressed("cutout"),
        mend=acts.released("cutout"),
        rules=("cut_out",),
        needs=("cutout",),
    ),
    Fault(
        name="level",
        promise=41,
        what="the level switch says that the element may be bare",
        act=acts.pressed("level"),
        mend=acts.released("level"),
        rules=("level_low",),
        needs=("level",),
    ),
    Fault(
        name="board-restarts",
        promise=48,
        what="the board starts anew three times in three minutes",
        act=acts.boots,
        mend=acts.over_by_itself,
        rules=("board_restarts",),
    ),
    Fault(
        name="pump-welded",
        promise=50,
        what="the pump runs by itself, a flow switch sees it",
        act=acts.welded("pump"),
        mend=acts.unwelded("pump"),
        begins=("boil", "climb"),
        after_s=60.0,
        rules=("stray_flow",),
        needs=("pump", "flow"),
    ),
    Fault(
        name="bed-stuck",
        promise=51,
        what="the bed passes nothing",
        act=acts.stick_bed,
        mend=acts.loosen_bed,
        begins=HOLD,
        after_s=300.0,
        rules=("level_low", "no_flow", "bed_stuck"),
        needs=("pump", "level"),
    ),
    Fault(
        name="link-lost", promise=6, what="the board falls silent", act=acts.unlink, mend=acts.link, rules=("stale",)
    ),
)

OF_THE_DAY: tuple[Fault[DayRig], ...] = (
    Fault(
        name="nobody-at-the-boil",
        promise=53,
        what="the brewer goes away on the way to the boil",
        act=acts.leave,
        begins=("boil", "climb"),
        after_s=1.0,
        rules=("held_for_nobody",),
    ),
    Fault(name="suspended", promise=47, what="the host sleeps for ten minutes", act=acts.suspend, rules=("away",)),
)

OF_THE_CABLE: tuple[Fault[CableRig], ...] = (
    Fault(
        name="cable-loose",
        promise=6,
        what="the board's plug hangs loose: few frames pass",
        act=acts.loosen_cable,
        mend=acts.link,
        rules=("stale",),
    ),
)

ELSEWHERE: tuple[Elsewhere, ...] = (
    Elsewhere(name="service-dies", promise=1, what="kill -9, STOP", test="tests/scenarios/test_service_dies.py"),
    Elsewhere(name="loop-blocked", promise=2, what="a blocked loop", test="tests/scenarios/test_service_dies.py"),
    Elsewhere(name="bad-cable", promise=6, what="bytes lost, bent, late", test="tests/scenarios/test_bad_cable.py"),
    Elsewhere(name="power-cut", promise=27, what="kill -9 while writing", test="tests/journal/test_crash.py"),
    Elsewhere(name="bad-disk", promise=33, what="writes fail or stall", test="tests/journal/test_failing_disk.py"),
    Elsewhere(name="bad-files", promise=34, what="bits flip in the record", test="tests/journal/test_opening.py"),
    Elsewhere(
        name="stale-bytes", promise=45, what="bytes held up for 30 s", test="tests/scenarios/test_service_dies.py"
    ),
    Elsewhere(name="two-masters", promise=46, what="a second service", test="tests/simulator_wire/test_session.py"),
)

IN_A_DAY: tuple[Fault[DayRig], ...] = (*AT_THE_KETTLE, *OF_THE_DAY)
ON_A_WIRE: tuple[Fault[CableRig], ...] = (*AT_THE_KETTLE, *OF_THE_CABLE)


def in_a_day(name: str) -> Fault[DayRig] | None:
    """The fault of that name, of those that a day without a wire can have."""
    return next((fault for fault in IN_A_DAY if fault.name == name), None)


def on_a_wire(name: str) -> Fault[CableRig]:
    """The fault of that name, of those that a board on a wire can have. Raises KeyError."""
    return {fault.name: fault for fault in ON_A_WIRE}[name]
