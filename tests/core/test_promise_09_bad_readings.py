"""Promise 9: readings out of range, sentinels, a power-on 85, not a number."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.event import EventCode
from kettlebridge.model.reading import ReadingFault
from tests.core.bench_kettle import STRIKE, WITHIN_S, BenchKettle, plan_of

WITHIN_9_S = WITHIN_S[9] or 0.0

BAD: dict[str, float | ReadingFault] = {
    "open lead": 850.0,
    "short": -242.0,
    "sentinel -127": -127.0,
    "power-on 85": 85.0,
    "NaN": math.nan,
    "inf": math.inf,
    "-inf": -math.inf,
    **{fault.value: fault for fault in ReadingFault},
}


def heating() -> BenchKettle:
    bench = BenchKettle(plan_of(STRIKE), liquid_c=50.0, stage="heat")
    bench.run(30)
    assert bench.heater == 1000
    return bench


def mixed(bench: BenchKettle, bad: float | ReadingFault, *, every: int) -> Callable[[], float | ReadingFault]:
    """Bad readings, with every n-th one good."""
    count = 0

    def read() -> float | ReadingFault:
        nonlocal count
        count += 1
        return bad if count % every else bench.liquid_c

    return read


@pytest.mark.parametrize("bad", BAD.values(), ids=BAD)
def test_bad_readings_turn_the_heater_off_and_are_never_used(bad: float | ReadingFault) -> None:
    bench = heating()
    before_c = bench.state.evidence.control_c
    bench.reads = lambda: bad
    assert bench.until(lambda: bench.off, within_s=WITHIN_9_S) <= WITHIN_9_S
    assert bench.batch is BatchState.HOLDING
    assert bench.state.evidence.control_c == before_c


def test_four_in_a_row_trip_by_themselves_before_the_probe_counts_as_stale() -> None:
    bench = heating()
    bench.reads = lambda: ReadingFault.BAD_CRC
    while bench.batch is BatchState.RUNNING:
        bench.tick(dt_s=0.5)
    assert bench.state.hold_cause == "bad_streak"


def test_three_in_a_row_do_not() -> None:
    bench = heating()
    live = bench.reads
    for _ in range(4):
        bench.reads = lambda: ReadingFault.BAD_CRC
        for _ in range(3):
            bench.tick(dt_s=0.3)
        bench.reads = live
        for _ in range(4):
            bench.tick(dt_s=0.3)
    assert bench.batch is BatchState.RUNNING


def test_a_mostly_bad_probe_trips_though_no_four_are_in_a_row() -> None:
    bench = heating()
    bench.reads = mixed(bench, ReadingFault.NO_ANSWER, every=3)
    bench.until(lambda: bench.off, within_s=24 + WITHIN_9_S)
    assert bench.state.hold_cause == "mostly_bad"


def test_one_good_of_four_for_five_minutes_never_heats_for_long() -> None:
    bench = heating()
    bench.reads = mixed(bench, 850.0, every=4)
    bench.until(lambda: bench.off, within_s=24 + WITHIN_9_S)
    bench.run(300, dt_s=3.0)
    assert bench.off
    assert bench.batch is BatchState.HELD


def test_one_bad_reading_of_three_is_lived_with() -> None:
    bench = heating()
    good = mixed(bench, 1.0, every=3)
    bench.reads = lambda: ReadingFault.NO_ANSWER if good() != 1.0 else bench.liquid_c
    bench.run(60)
    assert bench.batch is BatchState.RUNNING
    assert bench.heater == 1000


def test_85_on_the_way_to_the_boil_is_a_temperature() -> None:
    bench = heating()
    bench.alive = False
    for step in range(70):
        bench.liquid_c = 50.0 + step * 0.5
        bench.reads = lambda: bench.liquid_c
        bench.tick()
    assert bench.state.evidence.control_c == pytest.approx(84.5)
    bench.liquid_c = 85.0
    bench.tick()
    assert bench.state.evidence.control_c == 85.0


def test_a_chattering_probe_is_told_once_not_every_second() -> None:
    bench = heating()
    bench.reads = mixed(bench, ReadingFault.NO_ANSWER, every=2)
    bench.run(120)
    assert [event.get("fault") for event in bench.of(EventCode.PROBE)] == ["no_answer"]
    bench.reads = lambda: bench.liquid_c
    bench.run(30)
    assert [event.get("fault") for event in bench.of(EventCode.PROBE)] == ["no_answer", None]
