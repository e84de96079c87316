"""The world's edges: probes, switches, the heater's two switches, and acts that make no sense."""

from __future__ import annotations

import statistics

import pytest

from kettlesim.world import (
    PROBES,
    Act,
    AddHops,
    AddSugar,
    AddWater,
    BasketAway,
    Body,
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
    StopChiller,
    StopTransfer,
    World,
)
from tests.simulator.days import FULL, OFF, PUMP, run

BODY = Body.from_figures(capacity_l=35.0, heater_w=3000.0, probe_lag_s=20.0)


def filled(**options: float) -> World:
    world = World(BODY, seed=5, **options)
    world.act(AddWater(20.0, 40.0))
    return world


def test_a_new_kettle_is_empty_and_as_warm_as_the_room() -> None:
    truth = World(BODY, seed=1, ambient_c=16.0).truth()
    assert truth.volume_l == 0.0
    assert (truth.bulk_c, truth.element_c, truth.probe_c) == (16.0, 16.0, 16.0)
    assert (truth.basket, truth.grain_in, truth.lid_on, truth.boiling) == ("out", False, False, False)


@pytest.mark.parametrize(
    ("outputs", "heats"),
    [
        (Outputs(1.0, main_contactor_closed=True, pump_on=False), True),
        (Outputs(1.0, main_contactor_closed=False, pump_on=False), False),
        (Outputs(0.0, main_contactor_closed=True, pump_on=False), False),
    ],
)
def test_heater_heats_only_with_the_main_contactor_closed(outputs: Outputs, heats: bool) -> None:
    assert (run(filled(), outputs, 60).electric_j > 0.0) is heats


def test_mains_and_duty_scale_the_power_and_an_open_element_takes_none() -> None:
    world = filled(mains_fraction=0.9)
    half = Outputs(0.5, main_contactor_closed=True, pump_on=False)
    assert run(world, half, 100).electric_j == pytest.approx(0.5 * 0.9 * 3000.0 * 100.0)
    world.element_open = True
    assert run(world, half, 100).electric_j == pytest.approx(0.5 * 0.9 * 3000.0 * 100.0)


def test_flow_switch_tells_a_blocked_pump() -> None:
    world = filled()
    run(world, PUMP, 5)
    assert world.inputs_now().flow
    world.pump_blocked = True
    run(world, PUMP, 5)
    assert not world.inputs_now().flow


def test_probe_lags_a_steady_ramp_by_its_delay() -> None:
    world = filled(probe_offset_c=0.0)
    run(world, FULL, 600)
    stream_c = world.truth().bottom_c
    run(world, FULL, 20)
    assert world.truth().probe_c == pytest.approx(stream_c, abs=0.03)


def test_probe_starts_with_no_slope_after_a_step() -> None:
    world = filled()
    run(world, OFF, 600)
    world.act(AddWater(10.0, 95.0))
    run(world, PUMP, 60)
    near, far = world.truth().bottom_c - 40.0, world.truth().probe_c - 40.0
    assert 0.0 < far < near


def test_readings_are_whole_steps_with_the_noise_of_the_data_sheet() -> None:
    world = World(BODY, seed=5, probe_offset_c=0.0)
    readings = []
    for _ in range(400):
        world.advance(OFF, 1.0)
        readings.append(world.reading_c("control"))
    assert all((16.0 * reading).is_integer() for reading in readings)
    assert statistics.mean(readings) == pytest.approx(18.0, abs=0.015)
    assert statistics.stdev(readings) == pytest.approx(0.053, abs=0.01)  # .05 and the rounding


def test_offsets_are_drawn_within_the_data_sheet_and_differ_from_probe_to_probe() -> None:
    offsets = []
    for seed in range(30):
        world = World(BODY, seed=seed)
        offsets += [world.reading_c(probe) - 18.0 for probe in PROBES]
    assert max(abs(offset) for offset in offsets) < 0.5 + 0.25
    assert statistics.stdev(offsets) == pytest.approx(0.29, abs=0.06)  # evenly within ±0.5


def test_the_same_seed_gives_the_same_readings_whoever_else_is_asked() -> None:
    one, other = filled(), filled()
    for _ in range(20):
        one.advance(FULL, 1.0)
        other.advance(FULL, 1.0)
        other.reading_c("ambient")
        assert one.reading_c("control") == other.reading_c("control")


def test_a_probe_asked_twice_at_one_moment_answers_the_same() -> None:
    world = filled()
    world.advance(FULL, 1.0)
    assert world.reading_c("control") == world.reading_c("control")


def test_an_unknown_probe_is_an_error() -> None:
    with pytest.raises(KeyError):
        filled().reading_c("nose")


def test_return_probe_sees_the_stream_from_the_bottom_and_the_top_without_a_pump() -> None:
    world = filled()
    run(world, FULL, 900)
    heat = world.plant.heat
    assert heat.bottom_c > heat.top_c + 0.5
    assert heat.return_probe_c == pytest.approx(heat.top_c, abs=1.2)


def test_overfilling_runs_over_and_counts() -> None:
    world = World(BODY, seed=1)
    world.act(AddWater(40.0, 20.0))
    assert world.truth().volume_l == pytest.approx(35.0, abs=0.01)
    assert world.truth().boiled_over_l == pytest.approx(5.0, abs=0.01)


def test_draining_leaves_nothing_and_a_low_level() -> None:
    world = filled()
    world.act(DrawOff(5.0))
    assert world.truth().volume_l == pytest.approx(15.0)
    world.act(Drain())
    assert world.truth().volume_l == 0.0
    assert world.inputs_now().level_low


NONSENSE: list[tuple[list[Act], Act]] = [
    ([], AddWater(0.0, 20.0)),
    ([], GrainIn(5.0, 20.0)),
    ([AddWater(20.0, 66.0), SetLid(on=True)], GrainIn(5.0, 20.0)),
    ([AddWater(20.0, 66.0), GrainIn(5.0, 20.0)], GrainIn(5.0, 20.0)),
    ([AddWater(20.0, 66.0)], LiftBasket()),
    ([AddWater(20.0, 66.0)], Sparge(5.0, 76.0)),
    ([AddWater(20.0, 66.0), GrainIn(5.0, 20.0)], BasketAway()),
    ([AddWater(20.0, 66.0), GrainIn(5.0, 20.0), LiftBasket()], SetLid(on=True)),
    ([AddWater(20.0, 66.0), GrainIn(5.0, 20.0), SetLid(on=True)], LiftBasket()),
    ([], AddSugar(1.0)),
    ([], AddHops(0.0)),
    ([], StartChiller(15.0, 0.0)),
    ([], StopChiller()),
    ([], StopTransfer()),
    ([StartTransfer()], StartTransfer()),
    ([AddWater(20.0, 66.0), GrainIn(5.0, 20.0)], StartTransfer()),
    ([AddWater(20.0, 66.0), GrainIn(5.0, 20.0)], Drain()),
    ([AddWater(20.0, 66.0)], DrawOff(21.0)),
    ([AddWater(20.0, 66.0)], StickBed(1.0)),
    ([AddWater(20.0, 66.0), GrainIn(5.0, 20.0)], StickBed(1.5)),
]


@pytest.mark.parametrize(("before", "act"), NONSENSE, ids=[type(act).__name__ for _, act in NONSENSE])
def test_an_act_that_makes_no_sense_is_refused_with_a_sentence_and_changes_nothing(before: list[Act], act: Act) -> None:
    world = World(BODY, seed=1)
    for earlier in before:
        world.act(earlier)
    plant = world.plant
    with pytest.raises(ValueError, match=r"^[A-Z].*\.$"):
        world.act(act)
    assert world.plant == plant


def test_what_is_no_act_is_a_type_error() -> None:
    with pytest.raises(TypeError, match="not a brewer's act"):
        World(BODY, seed=1).act("lift")  # type: ignore[arg-type]  # the point of the test
