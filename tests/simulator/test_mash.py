"""Grain: its heat, its extract, what it holds back, and a bed that lets nothing through."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kettlesim.world import (
    AddSugar,
    AddWater,
    BasketAway,
    Body,
    GrainIn,
    LiftBasket,
    Outputs,
    Sparge,
    StickBed,
    Stir,
    World,
)
from tests.simulator.days import MASH, OFF, PUMP, run

BODY = Body.from_figures(capacity_l=35.0, heater_w=3000.0)
NO_LOSS = replace(BODY, wall_outside_w_per_k=0.0, wall_j_per_k=1.0, wall_inside_w_per_k=0.0, surface_w_per_m2k=0.0)


def mash(body: Body = BODY, water_c: float = 71.7, water_l: float = 17.5, malt_kg: float = 5.2) -> World:
    world = World(body, seed=1)
    world.act(AddWater(water_l, water_c))
    world.act(GrainIn(malt_kg, 18.0))
    return world


@pytest.mark.parametrize(
    ("malt_j_per_kg_k", "slaking_j_per_kg", "strike_c"),
    [
        (1591.0, 0.0, 71.420),  # the equation of a published brewing-room book, S = .38
        (1675.0, 0.0, 71.705),  # S = .40
        (1680.0, 20_000.0, 70.309),  # by CoolProp enthalpies, with slaking heat
    ],
)
def test_dough_in_settles_where_the_heat_balance_says(
    malt_j_per_kg_k: float, slaking_j_per_kg: float, strike_c: float
) -> None:
    body = replace(NO_LOSS, malt_j_per_kg_k=malt_j_per_kg_k, slaking_j_per_kg=slaking_j_per_kg, element_j_per_k=1.0)
    assert mash(body, water_c=strike_c).truth().bulk_c == pytest.approx(66.0, abs=0.1)


def test_bed_is_colder_than_the_stream_by_losses_over_flow() -> None:
    world = mash()
    truth = run(world, Outputs(0.25, main_contactor_closed=True, pump_on=True), 5400)
    stream_w_per_k = world.plant.matter.pump_l_per_min / 60.0 * world.plant.heat.top_j_per_k
    assert stream_w_per_k > 0.0
    assert 0.5 < truth.bottom_c - truth.bed_c < 2.5


def test_without_the_pump_the_element_heats_the_bottom_zone_alone() -> None:
    world = mash()
    run(world, PUMP, 600)
    bed_c = world.truth().bed_c
    truth = run(world, Outputs(1.0, main_contactor_closed=True, pump_on=False), 120)
    assert truth.bottom_c > bed_c + 8.0
    assert truth.bed_c < bed_c + 1.0


def test_an_hour_at_mash_temperature_dissolves_nearly_all_extract_and_a_cold_mash_little() -> None:
    warm, cold = mash(), mash(water_c=42.0)
    assert run(warm, MASH, 3600).extract_kg > 0.9 * 5.2 * 0.78
    assert run(cold, PUMP, 3600).extract_kg < 0.5 * 5.2 * 0.78


def test_wort_has_the_gravity_of_its_extract() -> None:
    # Congress arithmetic: 80 % on dry, 4 % moisture and 3.33 L/kg give a first wort of 18.6 °P when all dissolves.
    world = mash(water_l=17.3, malt_kg=5.2)
    run(world, MASH, 5400)
    matter = world.plant.matter
    assert 100.0 * matter.extract_kg / (matter.extract_kg + matter.water_kg) == pytest.approx(18.6, abs=1.0)


def test_lifted_grain_gives_most_of_its_wort_back_within_minutes_and_keeps_the_absorption() -> None:
    world = mash(water_l=20.0)
    run(world, MASH, 5400)
    evaporated_l = world.truth().evaporated_kg / 0.9982
    world.act(LiftBasket())
    at_once_l = world.truth().volume_l
    drained_l = run(world, OFF, 300).volume_l
    assert drained_l > at_once_l + 2.0
    evaporated_l = run(world, OFF, 900).evaporated_kg / 0.9982
    apparent_l_per_kg = (20.0 - evaporated_l - world.truth().volume_l) / 5.2
    assert apparent_l_per_kg == pytest.approx(BODY.absorption_l_per_kg, abs=0.03)


def test_sparging_washes_extract_out_of_the_grain() -> None:
    world = mash(water_l=20.0)
    run(world, MASH, 3600)
    world.act(LiftBasket())
    before = run(world, OFF, 600)
    world.act(Sparge(5.0, 76.0))
    after = run(world, OFF, 900)
    assert after.volume_l == pytest.approx(before.volume_l + 5.0, abs=0.3)
    assert after.extract_kg > before.extract_kg + 0.2
    world.act(BasketAway())
    assert world.truth().basket == "out"
    assert world.truth().volume_l == pytest.approx(after.volume_l)


def test_sugar_raises_extract_and_volume() -> None:
    world = World(BODY, seed=1)
    world.act(AddWater(20.0, 90.0))
    world.act(AddSugar(2.0))
    assert world.truth().extract_kg == 2.0
    assert world.truth().volume_l == pytest.approx(21.24)


def test_a_stuck_bed_bares_the_element_and_starves_the_pump() -> None:
    world = mash()
    run(world, MASH, 300)
    fine = world.inputs_now()
    assert fine.flow
    assert not fine.level_low
    world.act(StickBed(1.0))
    run(world, MASH, 60)
    stuck = world.inputs_now()
    assert stuck.level_low
    assert not stuck.flow
    assert run(world, Outputs(1.0, main_contactor_closed=True, pump_on=True), 60).element_c > 200.0


def test_half_a_stuck_bed_still_lets_the_pump_run() -> None:
    world = mash()
    world.act(StickBed(0.5))
    run(world, MASH, 600)
    assert world.inputs_now().flow
    assert world.plant.matter.shifted_l == pytest.approx(1.0, abs=0.1)  # twice the level for the same flow


def test_stirring_frees_a_stuck_bed() -> None:
    world = mash()
    world.act(StickBed(1.0))
    run(world, MASH, 120)
    world.act(Stir())
    truth = run(world, MASH, 60)
    assert world.inputs_now().flow
    assert not world.inputs_now().level_low
    assert truth.bottom_c < 80.0
