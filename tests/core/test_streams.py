"""What the pump, the level and the returning stream say, and for how long."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from kettlebridge.core.calls import CallKind
from kettlebridge.core.evidence import Moves, Streams
from kettlebridge.core.felt import Felt
from kettlebridge.core.ledger import Ledger
from kettlebridge.core.outputs import Outputs
from kettlebridge.core.probes import ProbeMemory
from kettlebridge.core.stage import Stage, nothing
from kettlebridge.core.streams import streams_of
from kettlebridge.model.plan import (
    AnyStep,
    AskKind,
    AskStep,
    BoilStep,
    ChillStep,
    CirculateStep,
    HeatStep,
    HopStandStep,
)
from kettlebridge.model.reading import UNLINKED, BoardInput
from tests.core.bench_kettle import KETTLE, MASH_REST, plan_of
from tests.core.moments import NOW_S, Moment, resting

FITTED = replace(KETTLE, inputs=BoardInput.FLOW | BoardInput.LEVEL, pump_l_per_min=6.0)
PUMPS = Moves(pumping=True, moved_s=NOW_S - 180.0)
"""Liquid was left alone for just as long as it takes to settle."""
STOPPED = PUMPS._replace(pumping=False)
STREAM_W_PER_K = 418.6
"""6 L/min of water, 4186 J/(kg K) (mean of IAPWS-95 between 20 and 67 °C)."""


def at(step: AnyStep = MASH_REST, inputs: BoardInput = BoardInput.NONE) -> Moment:
    return resting(plan_of(step, kettle=FITTED)).board(inputs=inputs)


def found(moment: Moment, moves: Moves = PUMPS, recent_fraction: float = 0.0) -> Streams:
    return streams_of(moment.here, moves, recent_fraction)


STEPS: dict[str, AnyStep] = {
    "heat": HeatStep(name="heat", to_c=70.0),
    "rest": MASH_REST,
    "circulate": CirculateStep(name="clean", at_c=60.0, for_min=5.0),
    "boil": BoilStep(name="boil", for_min=60.0),
    "hop stand": HopStandStep(name="stand", at_c=80.0, for_min=10.0),
    "chill": ChillStep(name="chill", to_c=20.0, water_c=12.0),
    "ask": AskStep(name="lift", what=AskKind.LIFT),
}
SHOWS_FLOW = {"heat", "rest", "circulate", "boil", "hop stand"}
PUMPS_ROUND = {"heat", "rest", "circulate"}


@pytest.mark.parametrize("step", STEPS)
def test_a_pump_without_flow_counts_where_it_moves_something_past_the_switch(step: str) -> None:
    assert found(at(STEPS[step])).flow_wanted is (step in SHOWS_FLOW)
    assert not found(at(STEPS[step], BoardInput.FLOW)).flow_wanted


@pytest.mark.parametrize("step", STEPS)
def test_flow_without_a_pump_counts_in_the_same_steps(step: str) -> None:
    off = at(STEPS[step], BoardInput.FLOW).at(state={"outputs": Outputs()})
    assert found(off, STOPPED).flow_stray is (step in SHOWS_FLOW)
    assert not found(off, STOPPED).flow_wanted


def test_flow_that_was_told_or_is_drawn_into_a_cup_is_no_stray() -> None:
    flows = at(inputs=BoardInput.FLOW)
    assert not found(flows, STOPPED).flow_stray
    off = flows.at(state={"outputs": Outputs()})
    assert not found(off, STOPPED._replace(drawing_off=True)).flow_stray


def test_without_a_flow_switch_nothing_is_said_of_flow() -> None:
    bare = resting(plan_of(MASH_REST, kettle=KETTLE)).board()
    assert not found(bare).flow_wanted


def test_an_input_that_the_kettle_file_does_not_name_is_not_felt() -> None:
    assert found(at(inputs=BoardInput.LEVEL)).felt.level
    assert not found(resting(plan_of(MASH_REST, kettle=KETTLE)).board(inputs=BoardInput.LEVEL)).felt.level


def test_a_board_that_is_away_says_nothing_of_its_inputs() -> None:
    away = at().before(streams=Streams(felt=Felt(told=BoardInput.LEVEL, level=True))).at(inputs={"health": UNLINKED})
    assert found(away).felt == Felt()


def with_return(c: float | None, step: AnyStep = MASH_REST) -> Moment:
    moment = at(step)
    return moment.at(seen={"seats": moment.seen.seats._replace(returning=ProbeMemory(good_c=c))})


@pytest.mark.parametrize("c", [70.0, 62.0])
@pytest.mark.parametrize("still_s", [180.0, 500.0])
def test_a_returning_stream_is_off_by_as_much_either_way(c: float, still_s: float) -> None:
    assert found(with_return(c), PUMPS._replace(moved_s=NOW_S - still_s)).bed_lag_c == pytest.approx(4.0)


def test_what_the_heater_does_to_a_stream_is_no_fault_of_the_grain() -> None:
    """Half more than its share of 2500 W in that stream is allowed for."""
    expected_c = 10.0 - 1.5 * 2500.0 * 0.5 / STREAM_W_PER_K
    assert found(with_return(56.0), recent_fraction=0.5).bed_lag_c == pytest.approx(expected_c)


@pytest.mark.parametrize("step", STEPS)
def test_the_stream_counts_where_the_pump_brings_back_what_it_takes(step: str) -> None:
    assert (found(with_return(70.0, STEPS[step])).bed_lag_c > 0.0) is (step in PUMPS_ROUND)


@pytest.mark.parametrize("moves", [STOPPED, PUMPS._replace(moved_s=NOW_S - 179.9)], ids=["stopped", "just moved"])
def test_a_stream_that_stands_or_was_just_moved_says_nothing(moves: Moves) -> None:
    assert found(with_return(70.0), moves).bed_lag_c == 0.0


def test_a_stream_that_is_not_read_at_both_ends_says_nothing() -> None:
    assert found(with_return(None)).bed_lag_c == 0.0
    unread = with_return(70.0).at(seen={"control": ProbeMemory()})
    assert found(unread).bed_lag_c == 0.0
    assert found(at()).bed_lag_c == 0.0


NOTHING_IN = {"ledger": Ledger()}


@pytest.mark.parametrize(
    ("inputs", "wet_before", "changed", "wet"),
    [
        (BoardInput.NONE, False, {}, True),
        (BoardInput.LEVEL, False, {}, False),
        (BoardInput.LEVEL, True, {}, True),
        (BoardInput.NONE, True, NOTHING_IN, False),
    ],
)
def test_a_level_switch_that_has_seen_the_claimed_liquid_is_remembered(
    inputs: BoardInput, wet_before: bool, changed: dict[str, Any], wet: bool
) -> None:
    assert found(at(inputs=inputs).before(streams=Streams(wet=wet_before)).at(state=changed)).wet is wet


def test_a_board_that_is_away_has_seen_no_liquid() -> None:
    assert not found(at().at(inputs={"health": UNLINKED})).wet


def test_dry_is_counted_while_liquid_is_claimed_and_from_the_beginning_once_it_is_wet() -> None:
    dry = at(inputs=BoardInput.LEVEL).before(streams=Streams(dry_s=20.0)).at(seen={"dt_s": 2.0})
    assert found(dry).dry_s == 22.0
    assert found(dry.at(state=NOTHING_IN)).dry_s == 0.0
    assert found(at().before(streams=Streams(dry_s=20.0))).dry_s == 0.0


HOT = Stage(name="hold", wish=nothing, moves=(), hot_pump=True)
STEP_S_HOSES, CUP_S_HOSES = ((CallKind.HOSES, 0),), ((CallKind.HOSES, 1),)


@pytest.mark.parametrize(
    ("row", "drawing", "answered", "may"),
    [
        (HOT, False, STEP_S_HOSES, True),
        (HOT, False, (), False),
        (HOT, False, CUP_S_HOSES, False),
        (None, False, STEP_S_HOSES, False),
        (replace(HOT, hot_pump=False), False, STEP_S_HOSES, False),
        (None, True, CUP_S_HOSES, True),
        (None, True, STEP_S_HOSES, False),
        (HOT, True, STEP_S_HOSES, False),
    ],
)
def test_a_pump_may_move_what_is_hot_once_its_own_hoses_were_confirmed(
    row: Stage | None, drawing: bool, answered: Any, may: bool
) -> None:
    moment = at()
    stage = moment.sequenced.stage._replace(answered=answered)
    moment = moment.at(sequenced={"row": row, "stage": stage})
    assert found(moment, PUMPS._replace(drawing_off=drawing)).hot_pump is may
