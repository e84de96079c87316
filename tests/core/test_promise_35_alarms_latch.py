"""Promise 35: a safety alarm latches and cannot be put away."""

from __future__ import annotations

import pytest

from kettlebridge.core.alarms import LATCHES, LIFECYCLE, Signal, moved
from kettlebridge.core.interlocks import INTERLOCKS
from kettlebridge.model.alarm import AlarmState
from kettlebridge.model.command import CommandKind
from tests.core.bench_kettle import STRIKE, BenchKettle, plan_of


def test_only_a_reset_after_its_cause_has_gone_ends_it() -> None:
    ends = {
        (state, signal)
        for state in AlarmState
        for signal in Signal
        if state is not AlarmState.NORMAL and moved(state, signal, True) is AlarmState.NORMAL
    }
    latched = {AlarmState.LATCHED_UNACKNOWLEDGED, AlarmState.LATCHED_ACKNOWLEDGED}
    assert {(state, signal) for state, signal in ends if state is not AlarmState.RETURNED_UNACKNOWLEDGED} == {
        (state, Signal.RESET) for state in latched
    }


def test_a_safety_alarm_never_enters_the_one_state_that_an_acknowledgement_ends() -> None:
    returned = AlarmState.RETURNED_UNACKNOWLEDGED
    reached = {moved(state, signal, True) for state, signal in LIFECYCLE if state is not returned}
    assert returned not in reached
    assert {state for state, _ in LATCHES} == {AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED}


def test_nothing_that_a_brewer_may_say_shelves_it() -> None:
    assert [kind for kind in CommandKind if "shelve" in kind.value or "suppress" in kind.value] == []


@pytest.mark.parametrize("acknowledges", [False, True])
def test_a_trips_alarm_stays_until_the_brewer_carries_on(acknowledges: bool) -> None:
    bench = BenchKettle(plan_of(STRIKE), stage="heat")
    bench.run(5)
    live, bench.reads = bench.reads, lambda: None
    bench.run(10)
    bench.reads = live
    bench.run(10)
    if acknowledges:
        bench.tell(CommandKind.ACKNOWLEDGE)
    bench.run(600)
    assert bench.alarms == ["stale"]
    bench.tell(CommandKind.CARRY_ON)
    bench.run(2)
    assert bench.alarms == []


def test_every_rule_that_trips_raises_one_of_these() -> None:
    assert len({row.code for row in INTERLOCKS if row.trips}) == len([row for row in INTERLOCKS if row.trips])
