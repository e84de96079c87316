"""Whatever happens, nothing is made from nothing: energy, mass and extract, from sums kept where each stream passes."""

from __future__ import annotations

import pytest

from kettlesim.plant.layout import stored_j
from kettlesim.plant.state import MALT_YIELD_KG_PER_KG, capacity_j_per_k
from kettlesim.world import AddWater, Body, Chill, GrainIn, LiftBasket, Outputs, StartTransfer, World
from tests.simulator.days import FULL, PUMP, heat_until, run, whole_day
from tests.simulator.numbered import numbered_body

SMALL_TO_LARGE = [
    Body.from_figures(capacity_l=12.0, heater_w=1800.0),
    Body.from_figures(capacity_l=35.0, heater_w=3000.0, altitude_m=800.0, chill=Chill.IN_LINE),
    numbered_body(7),
    numbered_body(8),
]


def energy_gap_fraction(world: World, stored_before_j: float) -> float:
    """What is stored now against everything that came and went, as a part of what came."""
    sums = world.plant.sums
    came_j = sums.electric_j + sums.slaking_j + sums.brought_j
    went_j = sums.lost_j + sums.vapour_j + sums.chilled_j + sums.carried_j
    return (stored_j(world.body, world.plant) - stored_before_j - came_j + went_j) / came_j


@pytest.mark.parametrize("body", SMALL_TO_LARGE, ids=["12 L", "35 L in line", "drawn 7", "drawn 8"])
def test_energy_mass_and_extract_balance_over_a_whole_day(body: Body) -> None:
    world = World(body, seed=1)
    stored_before_j = stored_j(body, world.plant)
    whole_day(world)
    assert (
        abs(energy_gap_fraction(world, stored_before_j)) < 1e-9
    )  # the promise is 0.1 %; rounding is all there should be
    matter, sums = world.plant.matter, world.plant.sums
    for part in (sums.electric_j, sums.slaking_j, sums.brought_j, sums.lost_j, sums.vapour_j, sums.carried_j):
        assert part > 0.01 * sums.slaking_j  # no stream of the day was left out
    assert sums.chilled_j > 0.1 * sums.electric_j
    assert sums.brought_kg - sums.carried_kg - sums.evaporated_kg == pytest.approx(
        matter.water_kg + matter.extract_kg, abs=1e-9
    )
    assert sums.brought_extract_kg - sums.carried_extract_kg == pytest.approx(matter.extract_kg, abs=1e-9)


def test_every_part_of_the_balance_is_what_an_outsider_would_count() -> None:
    body = Body.from_figures(capacity_l=30.0, heater_w=2500.0)
    world = World(body, seed=1)
    world.act(AddWater(20.0, 15.0))
    heat_until(world, FULL, lambda truth: truth.bulk_c > 60.0)
    world.act(GrainIn(4.0, 20.0))
    run(world, PUMP, 100)
    sums = world.plant.sums
    assert sums.electric_j == pytest.approx(2500.0 * (world.elapsed_s - 100.0))
    assert sums.brought_kg == pytest.approx(20.0 * 0.9982 + 4.0, rel=1e-4)
    assert sums.brought_j == pytest.approx(20.0 * 0.9982 * 4186.0 * 15.0 + 4.0 * body.malt_j_per_kg_k * 20.0, rel=1e-4)
    assert sums.slaking_j == pytest.approx(4.0 * body.slaking_j_per_kg)
    assert sums.brought_extract_kg == pytest.approx(4.0 * MALT_YIELD_KG_PER_KG)


def test_nodes_hold_the_capacity_of_the_kettles_contents() -> None:
    world = World(Body.from_figures(capacity_l=30.0, heater_w=2500.0), seed=1)
    world.act(AddWater(20.0, 66.0))
    world.act(GrainIn(4.0, 20.0))
    run(world, Outputs(1.0, main_contactor_closed=True, pump_on=True), 2000)
    world.act(LiftBasket())
    run(world, FULL, 3000)
    matter = world.plant.matter
    in_nodes = sum(world.plant.heat[7:12])
    assert in_nodes == pytest.approx(capacity_j_per_k(matter.water_kg, matter.extract_kg), rel=1e-9)


def test_fermenter_gets_what_the_kettle_loses() -> None:
    world = World(Body.from_figures(capacity_l=30.0, heater_w=2500.0), seed=1)
    world.act(AddWater(20.0, 20.0))
    world.act(StartTransfer())
    truth = run(world, PUMP, 60)
    assert truth.fermenter_l == pytest.approx(6.0, rel=0.01)  # 6 L/min for a minute
    assert truth.volume_l + truth.fermenter_l == pytest.approx(20.0, abs=0.01)
    assert run(world, PUMP, 600).volume_l == pytest.approx(world.body.dead_space_l, abs=0.02)
