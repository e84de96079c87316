"""Evaporation, convection and boil-off against figures from outside."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from kettlesim.plant import surface
from kettlesim.plant.state import boil_c, capacity_j_per_k, litres
from kettlesim.world import AddWater, Body, Outputs, SetLid, World
from tests.simulator.days import FULL, OFF, heat_until, run

BODY = Body.from_figures(capacity_l=35.0, heater_w=3000.0)
SQUARE_METRE = replace(BODY, diameter_m=math.sqrt(4.0 / math.pi))


# Shah (1981 ff.), recommended over ten others for undisturbed water from 7 to 94 °C with a mean deviation of 18 %;
# its constants from memory. 20 °C room, 50 % humidity.
@pytest.mark.parametrize(
    ("temp_c", "kg_per_m2_h"),
    [(30.0, 0.330), (50.0, 1.640), (60.0, 3.039), (67.0, 4.509), (78.0, 8.001), (90.0, 14.22)],
)
def test_evaporation_is_that_of_still_water(temp_c: float, kg_per_m2_h: float) -> None:
    evaporated, _ = surface.losses(SQUARE_METRE, temp_c, 20.0, False)
    assert evaporated * 3600.0 == pytest.approx(kg_per_m2_h, rel=0.2)


# Design tables for open tanks of hot water, about; the spread between such tables is 30 %.
@pytest.mark.parametrize(("temp_c", "loss_w"), [(66.0, 2700.0), (93.0, 8500.0)])
def test_surface_loses_what_open_tank_tables_say(temp_c: float, loss_w: float) -> None:
    evaporated, convected_w = surface.losses(SQUARE_METRE, temp_c, 20.0, False)
    assert evaporated * 2.3e6 + convected_w == pytest.approx(loss_w, rel=0.3)


def test_a_surface_colder_than_the_dew_point_loses_no_water() -> None:
    assert surface.losses(BODY, 5.0, 20.0, False)[0] == 0.0


def test_lid_saves_most_of_the_evaporation_and_time_to_the_mash() -> None:
    needed_s = {}
    for lid_on in (False, True):
        world = World(BODY, seed=1)
        world.act(AddWater(25.0, 15.0))
        world.act(SetLid(lid_on))
        needed_s[lid_on] = heat_until(world, FULL, lambda truth: truth.bulk_c > 90.0)
    assert needed_s[True] < 0.93 * needed_s[False]


def test_heating_takes_the_time_that_power_and_heat_capacity_give() -> None:
    # CoolProp: 30 L from 20 to 67 °C is 5885.9 kJ, 32.70 min at 3 kW without losses.
    body = replace(
        Body.from_figures(capacity_l=40.0, heater_w=3000.0),
        wall_outside_w_per_k=0.0,
        wall_j_per_k=1.0,
        wall_inside_w_per_k=0.0,
        surface_w_per_m2k=0.0,
        element_j_per_k=1.0,
    )
    world = World(body, seed=1)
    world.act(AddWater(30.0, 20.0))
    assert heat_until(world, FULL, lambda truth: truth.bulk_c >= 67.0) == pytest.approx(32.70 * 60.0, rel=0.003)


def test_boil_off_is_net_power_over_latent_heat() -> None:
    world = World(BODY, seed=1)
    world.act(AddWater(25.0, 90.0))
    heat_until(world, FULL, lambda truth: truth.boiling)
    run(world, FULL, 600)
    before, lost_before_j = world.truth(), world.plant.sums.lost_j
    after = run(world, FULL, 3600)
    net_j = 3000.0 * 3600.0 - (world.plant.sums.lost_j - lost_before_j)
    boiled_kg = after.evaporated_kg - before.evaporated_kg
    assert boiled_kg == pytest.approx(net_j / 2.2565e6, rel=0.01)  # IAPWS-95: 2256.5 kJ/kg at the boil
    assert 2.5 < before.volume_l - after.volume_l < 4.8  # lossless: 0.626 kW for 1 L/h


@pytest.mark.parametrize(("altitude_m", "boil_c"), [(0.0, 99.97), (1000.0, 96.65), (2500.0, 91.65)])
def test_water_boils_a_little_above_saturation_at_that_altitude(altitude_m: float, boil_c: float) -> None:
    # CoolProp 8 at the pressure that ambiance gives.
    world = World(Body.from_figures(capacity_l=20.0, heater_w=2500.0, altitude_m=altitude_m), seed=1)
    world.act(AddWater(12.0, 80.0))
    heat_until(world, FULL, lambda truth: truth.boiling)
    assert world.truth().bulk_c == pytest.approx(boil_c + 0.25, abs=0.2)


# Sucrose by Starzak and Peacock's activity and CoolProp's vapour pressure; a real wort is within 30 % of sucrose.
@pytest.mark.parametrize(
    ("plato", "rise_k"), [(5.0, 0.079), (10.0, 0.169), (15.0, 0.273), (20.0, 0.393), (30.0, 0.702)]
)
def test_extract_raises_the_boiling_point(plato: float, rise_k: float) -> None:
    rise = boil_c(BODY, 100.0 - plato, plato) - boil_c(BODY, 100.0, 0.0)
    assert rise == pytest.approx(rise_k, rel=0.1)


# ASBC density polynomial, inverted; mass fraction of extract in wort.
@pytest.mark.parametrize(("plato", "kg_per_l"), [(0.0, 0.99822), (5.0, 1.01782), (12.0, 1.04643), (20.0, 1.08093)])
def test_wort_has_the_density_of_its_extract(plato: float, kg_per_l: float) -> None:
    assert 100.0 / litres(100.0 - plato, plato) == pytest.approx(kg_per_l, rel=1e-3)


# Between Choi and Okos' carbohydrate mix and the sugar-technology formula, both at 67 °C; 2 % either way.
@pytest.mark.parametrize(
    ("plato", "low", "high"), [(10.0, 3898.0, 3945.0), (12.0, 3848.0, 3896.0), (20.0, 3649.0, 3703.0)]
)
def test_wort_has_the_heat_capacity_of_its_extract(plato: float, low: float, high: float) -> None:
    assert 0.98 * low < capacity_j_per_k(1.0 - plato / 100.0, plato / 100.0) < 1.02 * high


def test_too_little_power_never_boils_an_open_kettle() -> None:
    world = World(BODY, seed=1)
    world.act(AddWater(25.0, 95.0))
    truth = run(world, Outputs(0.25, main_contactor_closed=True, pump_on=False), 3600)
    assert not truth.boiling
    assert truth.bulk_c < 95.0


def test_hot_water_left_alone_loses_what_correlations_say() -> None:
    # A bare open kettle 0.36 m wide and 0.40 m high at 67 °C in a room at 20 °C: side by ht (Churchill) 113 W and
    # 31-139 W of radiation, bright to dull; surface by Shah 298 W, sensible 36 W.
    world = World(replace(BODY, diameter_m=0.36), seed=1, ambient_c=20.0)
    world.act(AddWater(30.0, 67.5))
    run(world, OFF, 60)
    before = world.plant.sums
    run(world, OFF, 120)
    after = world.plant.sums
    loss_w = (after.lost_j + after.vapour_j - before.lost_j - before.vapour_j) / 120.0
    vapour_heat_w = (after.evaporated_kg - before.evaporated_kg) * 4186.0 * world.truth().bulk_c / 120.0
    assert 0.7 * 478.0 < loss_w - vapour_heat_w < 1.3 * 586.0
