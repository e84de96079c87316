"""The day that every regulator drives every kettle through: strike water, grain in, a rest, a ramp.

Its times are fixed, so that a slow regulator can't win time: whatever is not reached is a failure.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import NamedTuple, Protocol

from kettlebridge.core.ledger import Grain, Ledger
from kettlebridge.core.stage import NOTHING, Wish
from kettlebridge.model.kettle import HeaterDrive
from kettlebridge.simulated.family.draw import MASH_OUT_C, REST_C, Member
from kettlesim.world import AddWater, GrainIn, Outputs, SetLid, Stir, World

PERIOD_S = 1.0
BEFORE_S = 300.0
LONGEST_HEAT_UP_S = 6 * 3600.0
STRIKE_PATIENCE = 1.25
STRIKE_HOLD_S = 1500.0
HANDS_IN_S = 300.0
SETTLE_S = 300.0
REST_S = 2400.0
RAMP_S = 2700.0


class Seen(NamedTuple):
    """What a regulator is shown at a second. `reading_c` is raw; `applied_fraction` acted since the last."""

    member: Member
    ledger: Ledger
    wish: Wish
    reading_c: float
    applied_fraction: float
    pumping: bool
    now_s: float
    world: World
    """The truth: only the perfect-information bound may look."""


class Regulator(Protocol):
    """One regulator with its memory."""

    def permille(self, seen: Seen) -> int:
        """What to demand of the heater for the next second."""
        ...


class Second(NamedTuple):
    """The truth at the end of a second of a phase, and the heater meanwhile."""

    now_s: float
    probe_c: float
    bulk_c: float
    bed_c: float
    element_c: float
    permille: int


@dataclass(slots=True)
class Course:
    """What one regulator made of one kettle: seconds by phase, `now_s` counted from the phase's begin."""

    member: Member
    bound_s: float | None
    phases: dict[str, list[Second]] = field(default_factory=dict)


class Phase(NamedTuple):
    """`acts` happen at its begin."""

    name: str
    lasts_s: float
    wish: Wish
    grain_in: bool = False
    acts: Callable[[World, Member], None] | None = None


def _dough_in(world: World, member: Member) -> None:
    world.act(SetLid(on=False))
    world.act(GrainIn(kg=member.grain_kg, temp_c=member.grain_c))
    world.act(Stir())
    world.act(SetLid(on=True))


def phases(member: Member, bound_s: float) -> tuple[Phase, ...]:
    """The day of `member`, in order."""
    strike_s = math.ceil(bound_s * STRIKE_PATIENCE + STRIKE_HOLD_S)
    return (
        Phase("before", BEFORE_S, NOTHING),
        Phase("strike", strike_s, Wish(target_c=member.strike_c)),
        Phase("hands_in", HANDS_IN_S, NOTHING),
        Phase("settle", SETTLE_S, NOTHING, grain_in=True, acts=_dough_in),
        Phase("rest", REST_S, Wish(target_c=REST_C, pump_on=True), grain_in=True),
        Phase("ramp", RAMP_S, Wish(target_c=MASH_OUT_C, pump_on=True), grain_in=True),
    )


def filled(member: Member) -> World:
    """The kettle of `member` with its water in and the lid on."""
    world = World(
        member.body,
        seed=member.seed * 100_003 + member.number,
        ambient_c=member.ambient_c,
        mains_fraction=member.mains_fraction,
        probe_offset_c=0.0,
    )
    world.act(AddWater(litres=member.litres, temp_c=member.water_c))
    world.act(SetLid(on=True))
    return world


def energy_bound_s(member: Member) -> float | None:
    """The least time at full power in which the water takes in what brings it to the strike temperature.

    Heat in the element counts: it reaches the water after the switch-off. None where full power never does.
    """
    world, full = filled(member), Outputs(heater_fraction=1.0, main_contactor_closed=True, pump_on=False)
    water_j_per_k = 4186.0 * member.litres
    while world.elapsed_s < LONGEST_HEAT_UP_S:
        world.advance(full, PERIOD_S)
        truth = world.truth()
        coming_c = member.body.element_j_per_k * (truth.element_c - truth.bulk_c) / water_j_per_k
        if truth.bulk_c + coming_c >= member.strike_c:
            return world.elapsed_s
    return None


def driven(member: Member, bound_s: float, regulator: Regulator) -> Course:
    """The whole day of `member` under `regulator`."""
    world, course = filled(member), Course(member, bound_s)
    permille = 0
    for phase in phases(member, bound_s):
        if phase.acts is not None:
            phase.acts(world, member)
        ledger = Ledger(
            volume_l=member.litres_believed,
            grain=Grain.IN if phase.grain_in else Grain.NONE,
            grain_kg=member.grain_kg if phase.grain_in else 0.0,
        )
        begun_s, seconds = world.elapsed_s, course.phases.setdefault(phase.name, [])
        for _ in range(round(phase.lasts_s / PERIOD_S)):
            outputs = Outputs(permille / 1000.0, main_contactor_closed=True, pump_on=phase.wish.pump_on)
            world.advance(outputs, PERIOD_S)
            truth = world.truth()
            seconds.append(
                Second(world.elapsed_s - begun_s, truth.probe_c, truth.bulk_c, truth.bed_c, truth.element_c, permille)
            )
            seen = Seen(
                member,
                ledger,
                phase.wish,
                world.reading_c("control"),
                permille / 1000.0,
                phase.wish.pump_on,
                world.elapsed_s,
                world,
            )
            permille = regulator.permille(seen)
            if not phase.wish.heats:
                permille = 0
    return course


def is_ssr(course: Course) -> bool:
    """Whether an SSR switches the element."""
    return course.member.kettle.drive is HeaterDrive.SSR
