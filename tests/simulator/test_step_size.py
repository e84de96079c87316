"""One-second steps against steps of 0.05 s, over the roughest that a controller does to a kettle."""

from __future__ import annotations

import pytest

from kettlesim.world import Act, AddWater, BasketAway, Body, GrainIn, LiftBasket, Outputs, Sparge, Truth, World
from tests.simulator.days import FULL, OFF
from tests.simulator.numbered import numbered_body

MASH_ON = Outputs(1.0, main_contactor_closed=True, pump_on=True)
MASH_OFF = Outputs(0.0, main_contactor_closed=True, pump_on=True)


def rough_day(body: Body, dt_s: float) -> list[tuple[float, Truth]]:
    """The truth every 5 s of a day of sudden changes, each with the time since hands last changed something."""
    world = World(body, seed=1)
    seen: list[tuple[float, Truth]] = []
    touched_s = 0.0

    def hold(outputs: Outputs, for_s: int) -> None:
        for step in range(1, round(for_s / dt_s) + 1):
            world.advance(outputs, dt_s)
            if step % round(5.0 / dt_s) == 0:
                seen.append((world.elapsed_s - touched_s, world.truth()))

    def do(act: Act) -> None:
        nonlocal touched_s
        world.act(act)
        touched_s = world.elapsed_s

    do(AddWater(0.6 * body.capacity_l, 30.0))
    hold(FULL, 300)
    hold(OFF, 60)
    do(AddWater(0.04 * body.capacity_l, 80.0))
    hold(MASH_ON, 100)
    do(GrainIn(0.13 * body.capacity_l, 18.0))
    for _ in range(5):
        hold(MASH_ON, 10)
        hold(MASH_OFF, 20)
    do(LiftBasket())
    hold(OFF, 60)
    do(Sparge(2.0, 76.0))
    hold(OFF, 40)
    do(BasketAway())
    hold(FULL, 60)
    return seen


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_one_second_is_short_enough(seed: int) -> None:
    body = numbered_body(seed)
    coarse, fine = rough_day(body, 1.0), rough_day(body, 0.05)
    assert len(coarse) == len(fine)
    for (since_s, one), (_, other) in zip(coarse, fine, strict=True):
        within_c = 0.05 if since_s > 10.0 else 0.15  # a lifted basket lets warm and cold liquid meet within seconds
        assert one.bulk_c == pytest.approx(other.bulk_c, abs=0.02)
        assert one.probe_c == pytest.approx(other.probe_c, abs=0.05)
        assert one.bed_c == pytest.approx(other.bed_c, abs=within_c)
        assert one.bottom_c == pytest.approx(other.bottom_c, abs=within_c)
        assert one.volume_l == pytest.approx(other.volume_l, abs=0.005)


def test_a_long_step_is_cut_into_short_ones() -> None:
    body = Body.from_figures(capacity_l=30.0, heater_w=2500.0)
    once, often = World(body, seed=1), World(body, seed=1)
    for world in (once, often):
        world.act(AddWater(20.0, 20.0))
    once.advance(FULL, 300.0)
    for _ in range(300):
        often.advance(FULL, 1.0)
    assert once.plant == often.plant
