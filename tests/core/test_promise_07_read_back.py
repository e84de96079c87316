"""Promise 7: the board reads an output higher than it was told."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from kettlebridge.core.ledger import Grain
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.event import EventCode
from kettlebridge.model.reading import BoardState
from tests.core.bench_kettle import MASH_REST, STRIKE, WITHIN_S, BenchKettle, plan_of

WITHIN_7_S = WITHIN_S[7] or 0.0

STUCK: dict[str, Callable[[BoardState], BoardState]] = {
    "heater": lambda board: replace(board, heater_permille=1000),
    "pump": lambda board: replace(board, pump_on=True),
    "main contactor": lambda board: replace(board, main_contactor_closed=True),
}


@pytest.mark.parametrize("output", STUCK)
def test_an_output_that_nobody_told_to_be_on_holds_the_batch(output: str) -> None:
    bench = BenchKettle(plan_of(STRIKE), liquid_c=72.0, stage="heat")
    bench.run(5)
    bench.pins = STUCK[output]
    if output == "main contactor":
        bench.state = bench.state._replace(batch=BatchState.RESTARTING, batch_since_s=bench.now_s)
    took_s = bench.until(lambda: bench.state.hold_cause == "beyond_told", within_s=WITHIN_7_S)
    assert took_s <= WITHIN_7_S
    assert bench.off
    assert bench.alarms == ["beyond_told"]


@pytest.mark.parametrize("output", STUCK)
def test_an_idle_kettle_raises_the_alarm(output: str) -> None:
    bench = BenchKettle(plan_of(STRIKE))
    bench.run(5)
    bench.pins = STUCK[output]
    bench.until(lambda: bench.alarms == ["beyond_told"], within_s=WITHIN_7_S)
    assert bench.batch is BatchState.IDLE


def test_a_board_that_follows_a_second_late_is_no_second_master() -> None:
    bench = BenchKettle(plan_of(MASH_REST), liquid_c=60.0, stage="hold", grain=Grain.IN)
    reports: list[BoardState] = []

    def late(board: BoardState) -> BoardState:
        reports.append(board)
        return replace(reports[-2] if len(reports) > 1 else board, acted_on=board.acted_on)

    bench.pins = late
    bench.run(50)
    assert bench.of(EventCode.TRIP) == []


REFUSED: dict[str, Callable[[BoardState], BoardState]] = {
    "heater": lambda board: replace(board, heater_permille=min(board.heater_permille, 899)),
    "pump": lambda board: replace(board, pump_on=False),
    "main contactor": lambda board: replace(board, main_contactor_closed=False),
}


@pytest.mark.parametrize("output", REFUSED)
def test_an_output_that_something_keeps_off_holds_the_batch_after_ten_seconds(output: str) -> None:
    step = MASH_REST if output == "pump" else STRIKE
    bench = BenchKettle(plan_of(step), liquid_c=30.0, stage="ramp" if output == "pump" else "heat", grain=Grain.IN)
    bench.run(5)
    bench.pins = REFUSED[output]
    took_s = bench.until(lambda: bench.state.hold_cause == "below_told", within_s=15)
    assert took_s == pytest.approx(11.0, abs=1.0)
    assert bench.off


def test_a_board_that_lets_go_for_a_moment_is_told_again() -> None:
    bench = BenchKettle(plan_of(STRIKE), liquid_c=30.0, stage="heat")
    for _ in range(5):
        bench.pins = REFUSED["heater"]
        bench.run(8)
        bench.pins = lambda board: board
        bench.run(3)
    assert bench.of(EventCode.TRIP) == []


def test_an_order_that_was_rounded_down_is_kept() -> None:
    bench = BenchKettle(plan_of(STRIKE), liquid_c=30.0, stage="heat")
    bench.pins = lambda board: replace(board, heater_permille=min(board.heater_permille, 900))
    bench.run(30)
    assert bench.of(EventCode.TRIP) == []


@pytest.mark.parametrize(("read_permille", "alarms"), [(100, []), (101, ["beyond_told"])])
def test_a_tenth_of_full_power_may_be_rounding_and_more_is_somebody_else(read_permille: int, alarms: list[str]) -> None:
    bench = BenchKettle(plan_of(STRIKE))
    bench.run(5)
    bench.pins = lambda board: replace(board, heater_permille=read_permille)
    bench.run(WITHIN_7_S + 5)
    assert bench.alarms == alarms
