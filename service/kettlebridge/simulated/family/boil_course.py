"""The boil of a family's kettle, three ways: full power and nobody looks, cut once it boils, and the service's own.

Wort at 72 °C, climbing with the lid on. The kettle file knows the altitude but not the weather, and no elevation of
the boil by extract or depth. "Lid off" takes the lid off where the service would ask for it, 4 °C under the boil.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace
from typing import Protocol

from kettlebridge.model.kettle import Kettle, Safety
from kettlebridge.simulated.family.draw import LITRES_ERROR, Member
from kettlebridge.simulated.virtual_day import PERIOD_S
from kettlesim.plant import water
from kettlesim.plant.state import EXTRACT_L_PER_KG
from kettlesim.world import AddSugar, AddWater, Outputs, SetLid, Stir, World

FROM_C = 72.0
FILLED_FRACTION = (0.62, 0.85)
"""Of the capacity, cold: what people boil; a fifth of head-space is the usual advice (common practice, no source)."""
PLATO = (8.0, 14.0)
STAND_BY_S = (20.0, 180.0)
LONGEST_CLIMB_S = 3 * 3600.0
WATCHED_S = 20 * 60.0
"""So long after the true boil a course goes on: the hot break has passed by then."""
EASY_NET_FRACTION = 0.35


@dataclass(frozen=True, slots=True, kw_only=True)
class Wort:
    """What is boiled. `kettle` is its file; litres at 20 °C, `extract_kg` dissolved in `water_l`."""

    member: Member
    kettle: Kettle
    water_l: float
    extract_kg: float
    litres_believed: float
    stand_by_s: float
    lid_stays: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Boil:
    """`boils_s` None: the kettle never boiled. `called_s` None: it was never told; `dated_s`: since when."""

    wort: Wort
    boils_s: float | None
    called_s: float | None
    dated_s: float | None
    called_under_c: float | None
    """How far under its boil the mean of the liquid was when it was called."""
    net_fraction: float
    """Of the power that reaches the kettle, what was left over losses just before it boiled."""
    boiled_over_l: float
    hottest_element_c: float
    highest_foam_fraction: float


class Hand(Protocol):
    """Who is at the heater. `called`: the kettle is taken to boil; `present`: somebody stands there, the lid is off."""

    called: bool
    present: bool

    @property
    def boiled_s(self) -> float:
        """What counts of the boil's time."""
        ...

    def permille(self, world: World) -> int:
        """What the heater is given for the next second."""
        ...


def wort_of(member: Member, *, lid_stays: bool) -> Wort:
    """The wort that goes with a member: the same one every time, whatever the lid does."""
    rng = random.Random(f"boil/{member.seed}/{member.number}")  # noqa: S311  # kettles, not secrets
    wort_l = member.body.capacity_l * rng.uniform(*FILLED_FRACTION)
    plato = rng.uniform(*PLATO)
    extract_per_l = plato / (100.0 - plato)
    water_l = wort_l / (1.0 + EXTRACT_L_PER_KG * extract_per_l)
    boil_c = water.saturation_temp_c(water.pressure_at_altitude_pa(member.body.altitude_m))
    return Wort(
        member=member,
        kettle=replace(member.kettle, boil_c=boil_c, safety=Safety(limit_c=boil_c + 3.0)),
        water_l=water_l,
        extract_kg=water_l * extract_per_l,
        litres_believed=wort_l * rng.uniform(1.0 - LITRES_ERROR, 1.0 + LITRES_ERROR),
        stand_by_s=rng.uniform(*STAND_BY_S),
        lid_stays=lid_stays,
    )


def poured(wort: Wort) -> World:
    """The kettle with its wort in and the lid on."""
    member = wort.member
    world = World(
        member.body,
        seed=member.seed * 100_003 + member.number,
        ambient_c=member.ambient_c,
        mains_fraction=member.mains_fraction,
        probe_offset_c=0.0,
    )
    world.act(AddWater(litres=wort.water_l, temp_c=FROM_C))
    world.act(AddSugar(kg=wort.extract_kg))
    world.act(Stir())
    world.act(SetLid(on=True))
    return world


def boiled(wort: Wort, hand: Hand) -> Boil:
    """The climb and the first twenty minutes of the boil under `hand`."""
    world, permille, lid_on = poured(wort), 0, True
    boils_s = called_s = dated_s = called_under_c = net_fraction = None
    hottest_c = foam = lost_j = 0.0
    while world.elapsed_s < (LONGEST_CLIMB_S if boils_s is None else boils_s + WATCHED_S):
        world.advance(Outputs(permille / 1000.0, main_contactor_closed=True, pump_on=False), PERIOD_S)
        truth, sums = world.truth(), world.plant.sums
        if boils_s is None and truth.boiling:
            boils_s = world.elapsed_s
        if boils_s is None:
            lost_w = (sums.lost_j + sums.vapour_j - lost_j) / PERIOD_S
            net_fraction = 1.0 - lost_w / (wort.member.body.heater_w * world.mains_fraction)
        lost_j = sums.lost_j + sums.vapour_j
        hottest_c, foam = max(hottest_c, truth.element_c), max(foam, truth.foam_fraction)
        permille = hand.permille(world)
        if called_s is None and hand.called:
            called_s, called_under_c = world.elapsed_s, truth.boil_c - truth.bulk_c
            dated_s = called_s - hand.boiled_s
        if lid_on and hand.present and not wort.lid_stays:
            lid_on = False
            world.act(SetLid(on=False))
    return Boil(
        wort=wort,
        boils_s=boils_s,
        called_s=called_s,
        dated_s=dated_s,
        called_under_c=called_under_c,
        net_fraction=net_fraction or 0.0,
        boiled_over_l=world.truth().boiled_over_l,
        hottest_element_c=hottest_c,
        highest_foam_fraction=foam,
    )
