"""What faults do, and what undoes it: functions for the rows of `faults.table`.

An act is done once a second, with the seconds since the fault began: a second time it must do no more.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from kettlesim.acts import AddWater, DrawOff, StickBed
from kettlesim.faults.rig import CableRig, Change, DayRig, Rig

Act = Callable[[Rig, float], None]
Mend = Callable[[Rig], None]

LEFT_FRACTION = 0.5
COLD_C = 14.0
LEAK_TIMES = 3.0
"""Times what an open kettle loses in a mash: out in the wind. Without a pump the bed cools where no probe is, and the
element is asked for little more: there the rule that counts energy has nothing to find."""
OPEN_TANK_W_PER_M2 = 2700.0
"""From open hot water at 66 °C (tables of tank heat losses, no single source)."""
MASH_ABOVE_ROOM_K = 46.0
AIR_LAG_S = 40.0
SUSPENDED_S = 600.0
BOOT_EVERY_S = 60.0
BOOTS = 3
LOST_FRACTION = 0.9
"""Of the frames, each way: no session stands that for long."""


def over_by_itself(rig: object) -> None:
    """Of a fault that goes on only while its act is done."""


def open_element(rig: Rig, since_s: float) -> None:
    """No current through the element."""
    rig.world.element_open = True


def whole_element(rig: Rig) -> None:
    """Undoes that."""
    rig.world.element_open = False


def cut_mains(rig: Rig, since_s: float) -> None:
    """No mains at the heater."""
    rig.world.mains_fraction = 0.0


def give_mains(rig: Rig) -> None:
    """Undoes that."""
    rig.world.mains_fraction = 1.0


def drain(rig: Rig, since_s: float) -> None:
    """Half of it runs out."""
    if since_s == 0.0:
        rig.world.act(DrawOff(litres=(1.0 - LEFT_FRACTION) * rig.world.truth().volume_l))


def fill_up(rig: Rig) -> None:
    """As much goes in as ran out, cold."""
    left_l = rig.world.truth().volume_l
    rig.world.act(AddWater(litres=left_l * (1.0 - LEFT_FRACTION) / LEFT_FRACTION, temp_c=COLD_C))


def leak_heat(rig: Rig, since_s: float) -> None:
    """Out in the wind."""
    if since_s == 0.0:
        body = rig.world.body
        lost_w_per_k = LEAK_TIMES * (body.wall_outside_w_per_k + _open_w_per_k(rig))
        rig.world.body = replace(body, wall_outside_w_per_k=lost_w_per_k)


def keep_heat(rig: Rig) -> None:
    """Undoes that."""
    body = rig.world.body
    usual_w_per_k = body.wall_outside_w_per_k / LEAK_TIMES - _open_w_per_k(rig)
    rig.world.body = replace(body, wall_outside_w_per_k=usual_w_per_k)


def _open_w_per_k(rig: Rig) -> float:
    return OPEN_TANK_W_PER_M2 * rig.world.body.surface_m2 / MASH_ABOVE_ROOM_K


def stick_bed(rig: Rig, since_s: float) -> None:
    """The bed passes nothing."""
    if since_s == 0.0:
        rig.world.act(StickBed(fraction=1.0))


def loosen_bed(rig: Rig) -> None:
    """Undoes that."""
    rig.world.act(StickBed(fraction=0.0))


def block_pump(rig: Rig, since_s: float) -> None:
    """The pump moves nothing."""
    rig.world.pump_blocked = True


def clear_pump(rig: Rig) -> None:
    """Undoes that."""
    rig.world.pump_blocked = False


def boots(rig: Rig, since_s: float) -> None:
    """The board starts anew, and again, and again."""
    if since_s % BOOT_EVERY_S == 0.0 and since_s < BOOTS * BOOT_EVERY_S:
        rig.restart_board()


def unlink(rig: Rig, since_s: float) -> None:
    """The board falls silent."""
    rig.unlink()


def link(rig: Rig) -> None:
    """Undoes that."""
    rig.link()


def loosen_cable(rig: CableRig, since_s: float) -> None:
    """Few frames pass."""
    rig.loosen(LOST_FRACTION)


def leave(rig: DayRig, since_s: float) -> None:
    """Nobody is there."""
    rig.leave()


def suspend(rig: DayRig, since_s: float) -> None:
    """The host sleeps, once."""
    if since_s == 0.0:
        rig.suspend(SUSPENDED_S)


def changed(change: Change, role: str = "control") -> Act:
    """The probe of that role tells something else."""

    def act(rig: Rig, since_s: float) -> None:
        if since_s == 0.0:
            rig.probe(role, change)

    return act


def sound(role: str = "control") -> Mend:
    """Undoes that."""
    return lambda rig: rig.sound_probe(role)


def frozen(rig: Rig, since_s: float) -> None:
    """The control probe repeats what it read first."""
    if since_s == 0.0:
        seen: list[float] = []

        def first(read_c: float, _since_s: float) -> float:
            seen.append(read_c)
            return seen[0]

        rig.probe("control", first)


def in_air(rig: Rig, since_s: float) -> None:
    """The control probe cools towards the room."""
    room_c = rig.world.ambient_c
    if since_s == 0.0:
        rig.probe("control", lambda read_c, s: room_c + (read_c - room_c) * (1.0 - 1.0 / AIR_LAG_S) ** s)


def welded(*switches: str) -> Act:
    """They stay closed."""
    return lambda rig, since_s: rig.weld(*switches)


def unwelded(*switches: str) -> Mend:
    """Undoes that."""
    return lambda rig: rig.unweld(*switches)


def stick_heater(rig: Rig, since_s: float) -> None:
    """The board's own output stays on."""
    rig.stick_heater()


def free_heater(rig: Rig) -> None:
    """Undoes that."""
    rig.free_heater()


def pressed(name: str) -> Act:
    """That input is on."""
    return lambda rig, since_s: rig.press(name)


def released(name: str) -> Mend:
    """Undoes that."""
    return lambda rig: rig.release(name)
