"""Foam at the hot break, boiling over, and both ways of chilling."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from kettlesim.plant import chiller
from kettlesim.world import (
    AddHops,
    AddSugar,
    AddWater,
    Body,
    Chill,
    Outputs,
    SetLid,
    StartChiller,
    StartTransfer,
    Stir,
    StopChiller,
    Truth,
    World,
)
from tests.simulator.days import FULL, OFF, PUMP, run

BODY = Body.from_figures(capacity_l=35.0, heater_w=3000.0)


def near_boil(body: Body = BODY, water_l: float = 26.0, sugar_kg: float = 3.0) -> World:
    world = World(body, seed=1)
    world.act(AddWater(water_l, 98.0))
    if sugar_kg > 0.0:
        world.act(AddSugar(sugar_kg))
    return world


def highest_foam(world: World, outputs: Outputs, for_s: int) -> float:
    return max(run(world, outputs, 1).foam_fraction for _ in range(for_s))


def test_a_full_kettle_at_full_power_boils_over_and_wort_is_lost() -> None:
    world = near_boil(water_l=28.0)
    assert highest_foam(world, FULL, 1200) > 0.999
    assert world.truth().boiled_over_l > 0.1


def test_less_power_through_the_hot_break_keeps_it_in() -> None:
    world = near_boil(water_l=26.0)
    assert highest_foam(world, Outputs(0.5, main_contactor_closed=True, pump_on=False), 1200) < 1.0
    assert world.truth().boiled_over_l == 0.0


def test_foam_switch_speaks_before_the_rim() -> None:
    world = near_boil(water_l=28.0)
    while not world.inputs_now().foam:
        world.advance(FULL, 1.0)
        assert world.elapsed_s < 1200.0
    assert world.truth().boiled_over_l == 0.0


def test_foam_dwindles_as_the_break_passes_and_hops_raise_it_again() -> None:
    world = near_boil(water_l=24.0)
    peak = highest_foam(world, FULL, 900)
    later = run(world, FULL, 1500).foam_fraction
    assert later < 0.5 * peak
    world.act(AddHops(40.0))
    assert highest_foam(world, FULL, 30) > later + 0.02


def test_water_alone_hardly_foams() -> None:
    world = near_boil(sugar_kg=0.0)
    assert highest_foam(world, FULL, 900) == 0.0


def test_stirring_and_cutting_the_heat_bring_foam_down() -> None:
    world = near_boil(water_l=28.0)
    while world.truth().foam_fraction < 0.9:
        world.advance(FULL, 1.0)
    before = world.truth().foam_fraction
    world.act(Stir())
    assert world.truth().foam_fraction < 0.4 * before
    assert run(world, OFF, 120).foam_fraction < 0.05


def test_boiling_dry_leaves_a_glowing_element_and_no_negative_volume() -> None:
    world = near_boil(Body.from_figures(capacity_l=12.0, heater_w=2000.0), water_l=2.0, sugar_kg=0.0)
    truth = run(world, FULL, 7200)
    assert 0.0 <= truth.volume_l < 0.7
    assert truth.element_c > 300.0


def cooling(body: Body, outputs: Outputs, for_s: int) -> Truth:
    world = World(body, seed=1)
    world.act(AddWater(20.0, 100.0))
    world.act(StartChiller(15.0, 4.0))
    return run(world, outputs, for_s)


def test_a_coil_cools_as_effectiveness_and_time_say() -> None:
    # ht 1.2: UA 250 W/K, 4 L/min: effectiveness .59; 20 L from 100 to 25 °C takes 18.06 min without other losses.
    body = replace(BODY, wall_outside_w_per_k=0.0, wall_j_per_k=1.0, wall_inside_w_per_k=0.0, surface_w_per_m2k=0.0)
    assert cooling(body, PUMP, round(18.06 * 60.0)).bulk_c == pytest.approx(25.0, abs=0.7)


def test_nothing_is_chilled_below_the_cooling_water() -> None:
    no_loss = replace(BODY, wall_outside_w_per_k=0.0, surface_w_per_m2k=0.0)
    assert cooling(no_loss, PUMP, 7200).bulk_c == pytest.approx(15.0, abs=0.01)


# By ht 1.2, effectiveness_from_NTU(units, ratio, "counterflow"); units and ratio are by the lesser capacity rate.
@pytest.mark.parametrize(
    ("units", "wort", "coolant", "effectiveness"),
    [(1.0, 140.0, 280.0, 0.564733), (1.0, 280.0, 140.0, 0.564733), (2.0, 280.0, 280.0, 0.666667)],
)
def test_counter_flow_agrees_with_ht(units: float, wort: float, coolant: float, effectiveness: float) -> None:
    least = min(wort, coolant)
    fall = chiller.cooled_fraction(units * least, wort, coolant)
    assert fall == pytest.approx(effectiveness * least / wort, rel=1e-5)


def test_a_coil_is_one_fluid_that_does_not_warm() -> None:
    assert chiller.coil_w_per_k(250.0, 280.0) == pytest.approx(280.0 * (1.0 - math.exp(-250.0 / 280.0)))


def test_wort_reaches_the_fermenter_cold_through_an_in_line_chiller() -> None:
    world = World(replace(BODY, chill=Chill.IN_LINE, chiller_w_per_k=900.0), seed=1)
    world.act(AddWater(20.0, 99.0))
    world.act(StartChiller(15.0, 8.0))
    world.act(StartTransfer())
    truth = run(world, PUMP, 150)
    assert 15.0 < truth.chiller_out_c < 40.0
    assert truth.bulk_c > 90.0
    assert truth.fermenter_l == pytest.approx(15.0, rel=0.02)
    assert world.plant.matter.fermenter_c == pytest.approx(truth.chiller_out_c, abs=1.0)
    world.act(StopChiller())
    assert run(world, PUMP, 30).chiller_out_c > 85.0


def test_boiling_wort_through_a_dry_chiller_comes_out_hot_enough_to_sanitise() -> None:
    world = World(replace(BODY, chill=Chill.IN_LINE), seed=1)
    world.act(AddWater(20.0, 99.0))
    assert run(world, PUMP, 60).chiller_out_c > 90.0


def test_a_lid_makes_foam_last() -> None:
    peaks = {}
    for lid_on in (False, True):
        world = near_boil(water_l=22.0)
        world.act(SetLid(lid_on))
        peaks[lid_on] = highest_foam(world, Outputs(0.6, main_contactor_closed=True, pump_on=False), 900)
    assert peaks[True] > 1.1 * peaks[False]
