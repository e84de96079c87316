"""Alarms in the lifecycle of ANSI/ISA-18.2."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import pytest

from kettlebridge.core.alarms import LIFECYCLE, Signal, followed, moved, sounding, standing, told
from kettlebridge.model.alarm import AlarmRecord
from kettlebridge.model.alarm import AlarmState as A
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import CommandKind
from kettlebridge.model.event import EventCode
from tests.core.bench_kettle import STRIKE, BenchKettle, plan_of

LATCHED = {A.LATCHED_UNACKNOWLEDGED, A.LATCHED_ACKNOWLEDGED}
NOISY: frozenset[tuple[str, bool]] = frozenset({("rest_hot", False)})
NONE: frozenset[tuple[str, bool]] = frozenset()


def lived(*signals: Signal, safety: bool) -> list[A]:
    """The states an alarm passes through from normal."""
    states, state = [], A.NORMAL
    for signal in signals:
        state = moved(state, signal, safety)
        states.append(state)
    return states


def test_an_alarm_that_comes_back_has_the_time_of_its_newest_onset() -> None:
    first, _ = followed((), NOISY, 10.0)
    lasting, _ = followed(first, NOISY, 11.0)
    over, _ = followed(lasting, NONE, 12.0)
    again, _ = followed(over, NOISY, 20.0)
    assert [record.since_s for alarms in (first, lasting, over, again) for record in alarms] == [10.0, 10.0, 10.0, 20.0]


def test_an_alarm_acknowledged_and_then_gone_is_over() -> None:
    """ANSI/ISA-18.2 figure 2: A -> B -> C -> A."""
    passed = lived(Signal.ACTIVE, Signal.ACKNOWLEDGED, Signal.CLEAR, safety=False)
    assert passed == [A.UNACKNOWLEDGED, A.ACKNOWLEDGED, A.NORMAL]


def test_an_alarm_gone_before_anybody_saw_it_waits_to_be_acknowledged() -> None:
    """ANSI/ISA-18.2 figure 2: A -> B -> D -> A."""
    passed = lived(Signal.ACTIVE, Signal.CLEAR, Signal.ACKNOWLEDGED, safety=False)
    assert passed == [A.UNACKNOWLEDGED, A.RETURNED_UNACKNOWLEDGED, A.NORMAL]


def test_a_safety_alarm_latches_until_reset() -> None:
    passed = lived(Signal.ACTIVE, Signal.CLEAR, Signal.ACKNOWLEDGED, Signal.CLEAR, Signal.RESET, safety=True)
    assert passed == [
        A.UNACKNOWLEDGED,
        A.LATCHED_UNACKNOWLEDGED,
        A.LATCHED_ACKNOWLEDGED,
        A.LATCHED_ACKNOWLEDGED,
        A.NORMAL,
    ]


@pytest.mark.parametrize("state", sorted(A, key=str))
def test_a_condition_that_comes_back_is_new_unless_it_was_acknowledged_all_along(state: A) -> None:
    after = moved(state, Signal.ACTIVE, safety=True)
    assert after is (A.ACKNOWLEDGED if state is A.ACKNOWLEDGED else A.UNACKNOWLEDGED)


def test_nothing_but_reset_ends_a_safety_alarm() -> None:
    reached = {A.UNACKNOWLEDGED, A.ACKNOWLEDGED, *LATCHED}
    ends = {signal for state, signal in product(reached, Signal) if moved(state, signal, safety=True) is A.NORMAL}
    stays = {moved(state, signal, safety=True) for state, signal in product(reached, Signal)} - {A.NORMAL}
    assert ends == {Signal.RESET}
    assert stays == reached


def test_the_table_is_about_states_and_signals_that_exist_and_all_states_are_reached() -> None:
    reached = {moved(state, signal, safety) for state, signal in LIFECYCLE for safety in (False, True)}
    assert reached == set(A)


def test_a_reset_does_not_silence_what_is_still_there() -> None:
    assert moved(A.UNACKNOWLEDGED, Signal.RESET, safety=True) is A.UNACKNOWLEDGED


def test_one_cause_is_one_alarm_and_events_tell_of_changes_only() -> None:
    alarms, raised = followed((), NOISY, 10.0)
    same, nothing = followed(alarms, NOISY, 11.0)
    assert [event.code for event in raised] == [EventCode.ALARM_RAISED]
    assert (same, nothing) == (alarms, ())
    gone, changed = followed(alarms, NONE, 12.0)
    assert [event.get("state") for event in changed] == ["returned_unacknowledged"]
    assert told(gone, Signal.ACKNOWLEDGED)[0] == ()


def test_causes_are_raised_in_a_fixed_order() -> None:
    both = frozenset({("b", True), ("a", False), ("c", True)})
    assert [record.cause for record in followed((), both, 0.0)[0]] == ["a", "b", "c"]


def test_acknowledging_one_leaves_the_others() -> None:
    alarms, _ = followed((), frozenset({("a", False), ("b", False)}), 0.0)
    after, _ = told(alarms, Signal.ACKNOWLEDGED, "a")
    assert [record.state for record in after] == [A.ACKNOWLEDGED, A.UNACKNOWLEDGED]
    assert sounding(after)
    assert not sounding(told(after, Signal.ACKNOWLEDGED, "b")[0])


def test_acknowledging_the_last_leaves_those_before_it() -> None:
    alarms, _ = followed((), frozenset({("a", False), ("b", False)}), 0.0)
    after, changed = told(alarms, Signal.ACKNOWLEDGED, "b")
    assert [record.state for record in after] == [A.UNACKNOWLEDGED, A.ACKNOWLEDGED]
    assert [event.get("alarm") for event in changed] == ["b"]


def test_a_cause_is_known_by_its_letters_wherever_the_word_comes_from() -> None:
    """A command's words come out of JSON, never the same object as the core's own."""
    alarms, _ = followed((), NOISY, 0.0)
    cause = "_".join(["rest", "hot"])
    assert standing(alarms, cause)
    assert [record.state for record in told(alarms, Signal.ACKNOWLEDGED, cause)[0]] == [A.ACKNOWLEDGED]


def test_standing_is_there_now_not_only_remembered() -> None:
    def record(state: A) -> tuple[AlarmRecord, ...]:
        return (AlarmRecord(cause="b", state=state, safety=False, since_s=0.0),)

    assert standing(record(A.ACKNOWLEDGED), "b")
    assert not standing(record(A.RETURNED_UNACKNOWLEDGED), "b")
    assert not standing(record(A.UNACKNOWLEDGED), "a")
    assert not standing(record(A.UNACKNOWLEDGED), "c")


def test_a_trip_sounds_until_acknowledged_stays_latched_and_ends_with_carrying_on() -> None:
    bench = BenchKettle(plan_of(STRIKE), stage="heat")
    bench.run(3)
    live, bench.reads = bench.reads, lambda: None
    bench.run(8)
    assert bench.state.outputs.buzzer == 3
    bench.tell(CommandKind.ACKNOWLEDGE, alarm="stale", at_kettle=False)
    bench.tick()
    assert bench.state.outputs.buzzer == 0
    bench.reads = live
    bench.run(6)
    assert [record.state for record in bench.state.alarms] == [A.LATCHED_ACKNOWLEDGED]
    assert bench.tell(CommandKind.CARRY_ON) is None
    assert bench.alarms == []


def test_one_fault_is_one_trip_and_one_alarm() -> None:
    bench = BenchKettle(plan_of(STRIKE), stage="heat")
    bench.run(3)
    bench.reads = lambda: None
    bench.run(60)
    assert len(bench.of(EventCode.TRIP)) == 1
    assert len(bench.of(EventCode.ALARM_RAISED)) == 1
    assert bench.be(BatchState.HELD)


def test_a_lost_board_is_an_alarm_of_a_batch_that_ran() -> None:
    bench = BenchKettle(plan_of(STRIKE), stage="heat")
    bench.run(3)
    bench.linked = False
    bench.run(7)
    assert bench.alarms == ["lost_board"]


def test_a_record_that_cannot_be_written_is_an_alarm_and_changes_no_control() -> None:
    bench = BenchKettle(plan_of(STRIKE), stage="heat")
    bench.run(3)
    bench.now_s += 1.0
    failing = replace(
        bench.inputs[-1], now_s=bench.now_s, readings=bench._readings(), health=bench.health(), journal_failing=True
    )
    bench.fold(failing)
    assert (bench.alarms, bench.heater) == (["not_recorded"], 1000)
