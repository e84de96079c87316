"""What must hold for any kettle of the family, whatever a brewer and a controller do to it."""

from __future__ import annotations

import contextlib
import math

from hypothesis import given, settings
from hypothesis import strategies as st

from kettlesim.plant.layout import stored_j
from kettlesim.world import (
    Act,
    AddHops,
    AddSugar,
    AddWater,
    BasketAway,
    Drain,
    DrawOff,
    GrainIn,
    LiftBasket,
    Outputs,
    SetLid,
    Sparge,
    StartChiller,
    StartTransfer,
    StickBed,
    Stir,
    StopChiller,
    StopTransfer,
    World,
)
from tests.simulator.numbered import numbered_body

ACTS: st.SearchStrategy[Act] = st.one_of(
    st.builds(AddWater, st.floats(0.05, 60.0), st.floats(2.0, 95.0)),
    st.builds(GrainIn, st.floats(0.1, 15.0), st.floats(0.0, 30.0)),
    st.builds(SetLid, st.booleans()),
    st.builds(LiftBasket),
    st.builds(Sparge, st.floats(0.1, 20.0), st.floats(5.0, 95.0)),
    st.builds(BasketAway),
    st.builds(AddSugar, st.floats(0.05, 5.0)),
    st.builds(AddHops, st.floats(1.0, 300.0)),
    st.builds(Stir),
    st.builds(StartChiller, st.floats(2.0, 25.0), st.floats(0.2, 20.0)),
    st.builds(StopChiller),
    st.builds(StartTransfer),
    st.builds(StopTransfer),
    st.builds(DrawOff, st.floats(0.1, 30.0)),
    st.builds(Drain),
    st.builds(StickBed, st.floats(0.0, 1.0)),
)
OUTPUTS = st.builds(Outputs, st.floats(0.0, 1.0), main_contactor_closed=st.booleans(), pump_on=st.booleans())
# Something is in the kettle most of the time, or there is little to see.
FIRST_L = st.floats(0.3, 1.0)
MOMENTS = st.lists(st.tuples(ACTS, OUTPUTS, st.integers(1, 400)), min_size=1, max_size=12)


@settings(max_examples=60, deadline=None)
@given(number=st.integers(0, 10_000), first=FIRST_L, water_c=st.floats(5.0, 98.0), moments=MOMENTS)
def test_nothing_impossible_happens(
    number: int, first: float, water_c: float, moments: list[tuple[Act, Outputs, int]]
) -> None:
    world = World(numbered_body(number), seed=number)
    body = world.body
    stored_before_j = stored_j(body, world.plant)
    world.act(AddWater(first * body.capacity_l, water_c))
    evaporated_kg = electric_j = 0.0
    for act, outputs, for_s in moments:
        with contextlib.suppress(ValueError):  # acts that make no sense are refused, which other tests show
            world.act(act)
        world.advance(outputs, float(for_s))
        heat, matter, sums = world.plant
        truth = world.truth()
        numbers = (*heat, *sums, *(value for value in matter if isinstance(value, float)))
        assert all(math.isfinite(number) for number in numbers)
        assert min(heat[7:12]) >= 0.0
        assert min(matter.water_kg, matter.extract_kg, matter.basket_water_kg, matter.malt_extract_kg) >= 0.0
        assert 0.0 <= truth.volume_l <= body.capacity_l * 1.002  # measured at 20 °C, cold water is denser
        assert max(heat[2:7]) <= truth.boil_c + 3.0
        assert min(heat[2:7]) > 0.0
        assert 0.0 <= truth.foam_fraction <= 1.0
        assert truth.evaporated_kg >= evaporated_kg
        assert truth.electric_j >= electric_j
        evaporated_kg, electric_j = truth.evaporated_kg, truth.electric_j
        came_j = sums.electric_j + sums.slaking_j + sums.brought_j
        went_j = sums.lost_j + sums.vapour_j + sums.chilled_j + sums.carried_j
        gap_j = stored_j(body, world.plant) - stored_before_j - came_j + went_j
        assert abs(gap_j) < 1e-3 * came_j
    assert -55.0 <= world.reading_c("control") <= 125.0


@settings(max_examples=40, deadline=None)
@given(number=st.integers(0, 10_000), less=st.floats(0.2, 0.8))
def test_more_power_is_warmer_and_more_water_is_colder(number: int, less: float) -> None:
    body = numbered_body(number)

    def bulk_c(heater_fraction: float, fill_fraction: float) -> float:
        world = World(body, seed=1)
        world.act(AddWater(fill_fraction * body.capacity_l, 20.0))
        world.advance(Outputs(heater_fraction, main_contactor_closed=True, pump_on=True), 600.0)
        return world.truth().bulk_c

    assert bulk_c(1.0, 0.6) > bulk_c(less, 0.6) > bulk_c(0.0, 0.6)
    assert bulk_c(1.0, 0.4) > bulk_c(1.0, 0.6) > bulk_c(1.0, 0.8)


@settings(max_examples=40, deadline=None)
@given(number=st.integers(0, 10_000))
def test_a_kettle_of_the_family_is_one_that_could_exist(number: int) -> None:
    body = numbered_body(number)
    assert 10.0 <= body.capacity_l <= 60.0
    assert 1500.0 <= body.heater_w <= 5500.0
    assert 5.0 <= body.probe_lag_s <= 30.0
    assert 2.0 <= body.pump_l_per_min <= 8.0
    assert 0.0 < body.element_cover_l < body.under_basket_l < 0.2 * body.capacity_l
    assert 88.0 < body.saturation_c < 101.0
    assert numbered_body(number) == body
