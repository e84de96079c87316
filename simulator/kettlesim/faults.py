"""Faults as a table: what each does to a kettle, its probes and its board, from when on, and what else shows it.

Those of the wire, the process and the disk cannot be put into a day without them: their rows name the test that does.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Protocol

from kettlesim.acts import DrawOff, StickBed
from kettlesim.world import World

Change = Callable[[float, float], float | None]
"""From what a probe reads and the seconds since the fault began to what it tells; None for silence."""


class Rig(Protocol):
    """What a fault may lay hands on."""

    @property
    def world(self) -> World:
        """The kettle."""

    def weld(self, *switches: str) -> None:
        """`heater`, `contactor`, `pump`: on whatever is demanded, and the board does not know."""

    def stick_heater(self) -> None:
        """The board's own output is on, and it says so."""

    def press(self, name: str) -> None:
        """`foam`, `level`, `cutout`, `stop`: that input is on from now on."""

    def probe(self, role: str, change: Change) -> None:
        """What the first probe of that role tells from now on."""

    def unlink(self) -> None:
        """The board is heard no more."""

    def restart_board(self) -> None:
        """The board's own time begins anew."""

    def leave(self) -> None:
        """The brewer goes away."""

    def suspend(self, away_s: float) -> None:
        """The host sleeps."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """A row. `begins`: (kind of step, stage) of a brew day in which it begins by itself, `after_s` into it.

    `act` is done once a second from then on, with the seconds since: a second time it must do no more. `test` names
    what injects a fault that `act` None cannot. `rules` are the codes that may end it, soonest first. `needs` are the
    fittings without which it means nothing: a role of a probe, an input, `pump`, `main_contactor`.
    """

    name: str
    promise: int
    what: str
    act: Callable[[Rig, float], None] | None = None
    begins: tuple[str, str] = ("heat", "heat")
    after_s: float = 200.0
    rules: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    test: str = ""


HOLD = ("rest", "hold")
BOIL = ("boil", "boil")
LEFT_FRACTION = 0.5
LEAK_TIMES = 3.0
"""Times what an open kettle loses in a mash: out in the wind. Without a pump the bed cools where no probe is, and the
element is asked for little more: there the rule that counts energy has nothing to find."""
OPEN_TANK_W_PER_M2 = 2700.0
"""From open hot water at 66 °C (tables of tank heat losses, no single source)."""
MASH_ABOVE_ROOM_K = 46.0
AIR_LAG_S = 40.0
NAN_LIKE_C = -127.0
SUSPENDED_S = 600.0
BOOT_EVERY_S = 60.0
BOOTS = 3


def _open(rig: Rig, since_s: float) -> None:
    rig.world.element_open = True


def _mains(rig: Rig, since_s: float) -> None:
    rig.world.mains_fraction = 0.0


def _drain(rig: Rig, since_s: float) -> None:
    if since_s == 0.0:
        rig.world.act(DrawOff(litres=(1.0 - LEFT_FRACTION) * rig.world.truth().volume_l))


def _leak(rig: Rig, since_s: float) -> None:
    if since_s == 0.0:
        body = rig.world.body
        open_w = OPEN_TANK_W_PER_M2 * body.surface_m2
        usual_w_per_k = body.wall_outside_w_per_k + open_w / MASH_ABOVE_ROOM_K
        rig.world.body = replace(body, wall_outside_w_per_k=LEAK_TIMES * usual_w_per_k)


def _stick_bed(rig: Rig, since_s: float) -> None:
    if since_s == 0.0:
        rig.world.act(StickBed(fraction=1.0))


def _block_pump(rig: Rig, since_s: float) -> None:
    rig.world.pump_blocked = True


def _boots(rig: Rig, since_s: float) -> None:
    if since_s % BOOT_EVERY_S == 0.0 and since_s < BOOTS * BOOT_EVERY_S:
        rig.restart_board()


def _suspend(rig: Rig, since_s: float) -> None:
    if since_s == 0.0:
        rig.suspend(SUSPENDED_S)


def _probe(change: Change, role: str = "control") -> Callable[[Rig, float], None]:
    def act(rig: Rig, since_s: float) -> None:
        if since_s == 0.0:
            rig.probe(role, change)

    return act


def _frozen() -> Callable[[Rig, float], None]:
    def act(rig: Rig, since_s: float) -> None:
        if since_s == 0.0:
            seen: list[float] = []

            def first(read_c: float, _since_s: float) -> float:
                seen.append(read_c)
                return seen[0]

            rig.probe("control", first)

    return act


def _in_air(rig: Rig, since_s: float) -> None:
    room_c = rig.world.ambient_c
    if since_s == 0.0:
        rig.probe("control", lambda read_c, s: room_c + (read_c - room_c) * (1.0 - 1.0 / AIR_LAG_S) ** s)


def _hot(read_c: float, since_s: float) -> float:
    return read_c + 0.1 * since_s


def _welded(*switches: str) -> Callable[[Rig, float], None]:
    return lambda rig, since_s: rig.weld(*switches)


def _pressed(name: str) -> Callable[[Rig, float], None]:
    return lambda rig, since_s: rig.press(name)


FAULTS: tuple[Fault, ...] = (
    Fault(name="element-open", promise=16, what="the element's wire is broken", act=_open, rules=("no_heat",)),
    Fault(name="no-mains", promise=16, what="the heater has no mains", act=_mains, rules=("no_heat",)),
    Fault(
        name="half-drained",
        promise=17,
        what="half of the liquid runs out unseen before it is heated",
        act=_drain,
        after_s=1.0,
        rules=("low_fill",),
    ),
    Fault(
        name="heater-welded",
        promise=18,
        what="the heater's switch sticks in a hold",
        act=_welded("heater"),
        begins=HOLD,
        after_s=300.0,
        rules=("weld", "over_set_point"),
        needs=("main_contactor",),
    ),
    Fault(
        name="heater-welded-heating",
        promise=18,
        what="the heater's switch sticks on the way up",
        act=_welded("heater"),
        begins=("rest", "ramp"),
        after_s=20.0,
        rules=("weld", "over_set_point", "hot_heating"),
        needs=("main_contactor",),
    ),
    Fault(
        name="both-welded",
        promise=19,
        what="heater and main contactor stick",
        act=_welded("heater", "contactor"),
        begins=HOLD,
        after_s=300.0,
        rules=("both_welded",),
        needs=("main_contactor",),
    ),
    Fault(
        name="output-stuck",
        promise=7,
        what="the board's heater output stays on",
        act=lambda rig, since_s: rig.stick_heater(),
        begins=HOLD,
        after_s=300.0,
        rules=("beyond_told",),
    ),
    Fault(
        name="probe-silent", promise=8, what="the probe is unplugged", act=_probe(lambda c, s: None), rules=("stale",)
    ),
    Fault(
        name="probe-garbage",
        promise=9,
        what="the probe tells -127 °C",
        act=_probe(lambda c, s: NAN_LIKE_C),
        rules=("bad_streak", "stale"),
    ),
    Fault(
        name="probe-power-on",
        promise=9,
        what="the probe tells 85 °C",
        act=_probe(lambda c, s: 85.0),
        rules=("bad_streak", "stale"),
    ),
    Fault(
        name="probe-mostly-bad",
        promise=9,
        what="one reading in four is one",
        act=_probe(lambda c, s: c if int(s) % 4 == 0 else NAN_LIKE_C),
        rules=("mostly_bad", "stale", "bad_streak"),
    ),
    Fault(
        name="probe-frozen",
        promise=10,
        what="the probe repeats one value",
        act=_frozen(),
        rules=("no_heat", "frozen"),
    ),
    Fault(
        name="probe-in-air",
        promise=11,
        what="the probe falls out of the liquid",
        act=_in_air,
        after_s=600.0,
        rules=("fell_out", "bad_streak", "stale", "no_heat"),
    ),
    Fault(
        name="twin-drifts",
        promise=12,
        what="the second probe in the place drifts away",
        act=_probe(lambda c, s: c - min(0.1 * s, 8.0), "same_place"),
        rules=("apart",),
        needs=("same_place",),
    ),
    Fault(
        name="probe-climbs",
        promise=20,
        what="the probe reads ever more in a hold",
        act=_probe(_hot),
        begins=HOLD,
        after_s=300.0,
        rules=("over_set_point", "weld"),
    ),
    Fault(
        name="heat-leaks",
        promise=21,
        what="the kettle loses far more heat than its file says",
        act=_leak,
        begins=HOLD,
        after_s=60.0,
        rules=("over_budget", "never_there", "no_heat"),
        needs=("pump",),
    ),
    Fault(
        name="pump-stops",
        promise=24,
        what="the pump stops in a mash, a flow switch sees it",
        act=_block_pump,
        begins=HOLD,
        after_s=300.0,
        rules=("no_flow",),
        needs=("pump", "flow"),
    ),
    Fault(
        name="cut-out",
        promise=41,
        what="the kettle's own cut-out acts and says so",
        act=_pressed("cutout"),
        rules=("cut_out",),
        needs=("cutout",),
    ),
    Fault(
        name="level",
        promise=41,
        what="the level switch says that the element may be bare",
        act=_pressed("level"),
        rules=("level_low",),
        needs=("level",),
    ),
    Fault(
        name="board-restarts",
        promise=48,
        what="the board starts anew three times in three minutes",
        act=_boots,
        rules=("board_restarts",),
    ),
    Fault(
        name="pump-welded",
        promise=50,
        what="the pump runs by itself, a flow switch sees it",
        act=_welded("pump"),
        begins=("boil", "climb"),
        after_s=60.0,
        rules=("stray_flow",),
        needs=("pump", "flow"),
    ),
    Fault(
        name="bed-stuck",
        promise=51,
        what="the bed passes nothing",
        act=_stick_bed,
        begins=HOLD,
        after_s=300.0,
        rules=("level_low", "no_flow", "bed_stuck"),
        needs=("pump", "level"),
    ),
    Fault(
        name="nobody-at-the-boil",
        promise=53,
        what="the brewer goes away on the way to the boil",
        act=lambda rig, since_s: rig.leave(),
        begins=("boil", "climb"),
        after_s=1.0,
        rules=("held_for_nobody",),
    ),
    Fault(name="suspended", promise=47, what="the host sleeps for ten minutes", act=_suspend, rules=("away",)),
    Fault(
        name="link-lost", promise=6, what="the board falls silent", act=lambda rig, s: rig.unlink(), rules=("stale",)
    ),
    Fault(name="service-dies", promise=1, what="kill -9, STOP", test="tests/scenarios/test_service_dies.py"),
    Fault(name="loop-blocked", promise=2, what="a blocked loop", test="tests/scenarios/test_service_dies.py"),
    Fault(name="bad-cable", promise=6, what="bytes lost, bent, late", test="tests/scenarios/test_bad_cable.py"),
    Fault(name="power-cut", promise=27, what="kill -9 while writing", test="tests/journal/test_crash.py"),
    Fault(name="bad-disk", promise=33, what="writes fail or stall", test="tests/journal/test_failing_disk.py"),
    Fault(name="bad-files", promise=34, what="bits flip in the record", test="tests/journal/test_opening.py"),
    Fault(name="stale-bytes", promise=45, what="bytes held up for 30 s", test="tests/scenarios/test_service_dies.py"),
    Fault(name="two-masters", promise=46, what="a second service", test="tests/simulator_wire/test_session.py"),
)


def named(name: str) -> Fault | None:
    """The fault of that name."""
    return next((fault for fault in FAULTS if fault.name == name), None)
