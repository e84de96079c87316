"""Brew days for the simulator's own tests: fixed schedules, no controller."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kettlesim.world import (
    AddHops,
    AddSugar,
    AddWater,
    BasketAway,
    Chill,
    DrawOff,
    GrainIn,
    LiftBasket,
    Outputs,
    SetLid,
    Sparge,
    StartChiller,
    StartTransfer,
    Stir,
    Truth,
    World,
)

if TYPE_CHECKING:
    from collections.abc import Callable

FULL = Outputs(1.0, main_contactor_closed=True, pump_on=False)
OFF = Outputs(0.0, main_contactor_closed=False, pump_on=False)
PUMP = Outputs(0.0, main_contactor_closed=False, pump_on=True)
MASH = Outputs(0.25, main_contactor_closed=True, pump_on=True)


def run(world: World, outputs: Outputs, for_s: float, dt_s: float = 1.0) -> Truth:
    """Hold ``outputs`` for that long; the truth at the end."""
    for _ in range(round(for_s / dt_s)):
        world.advance(outputs, dt_s)
    return world.truth()


def heat_until(world: World, outputs: Outputs, done: Callable[[Truth], bool], within_s: int = 14_400) -> float:
    """Hold ``outputs`` until ``done`` says so of the truth; how long that took, in whole seconds."""
    for passed_s in range(within_s):
        if done(world.truth()):
            return float(passed_s)
        world.advance(outputs, 1.0)
    message = f"not reached within {within_s} s: {world.truth()}"
    raise AssertionError(message)


def whole_day(world: World, dt_s: float = 1.0) -> None:
    """Everything a day can hold: strike, mash, sparge, sugar, boil, hops, chill, transfer, for a kettle of any size."""
    body = world.body
    water_l, malt_kg = 0.6 * body.capacity_l, 0.12 * body.capacity_l
    world.act(AddWater(water_l, 12.0))
    world.act(SetLid(on=True))
    heat_until(world, FULL, lambda truth: truth.bulk_c > 70.0)
    world.act(SetLid(on=False))
    world.act(GrainIn(malt_kg, 18.0))
    run(world, PUMP, 60, dt_s)
    run(world, MASH, 2400, dt_s)
    world.act(Stir())
    run(world, Outputs(1.0, main_contactor_closed=True, pump_on=True), 300, dt_s)
    world.act(LiftBasket())
    run(world, OFF, 240, dt_s)
    world.act(Sparge(0.12 * body.capacity_l, 76.0))
    run(world, OFF, 420, dt_s)
    world.act(BasketAway())
    world.act(AddSugar(0.01 * body.capacity_l))
    world.act(DrawOff(0.5))
    heat_until(world, FULL, lambda truth: truth.boiling)
    world.act(AddHops(30.0))
    run(world, FULL, 3000, dt_s)
    world.act(StartChiller(14.0, 5.0))
    if body.chill is Chill.IN_KETTLE:
        run(world, PUMP, 1500, dt_s)
    else:
        run(world, PUMP, 300, dt_s)
    world.act(StartTransfer())
    run(world, PUMP, 1800, dt_s)
