"""What one batch learnt is in the next one's plan."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest

from kettlebridge.brewing.trend import Drift
from kettlebridge.model.alarm import AlarmRecord, AlarmState
from kettlebridge.model.errors import JournalError
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.ids import BatchId, KettleId
from kettlebridge.model.inputs import Inputs
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.learnt import Learnt
from kettlebridge.model.plan import Plan
from kettlebridge.ports import BatchHeader, BatchSummary
from kettlebridge.runtime.carried_over import carried_over, left_over, trends_in
from tests.documents.builders import plan

BEGAN_UTC_S = 1_800_000_000.0
FITTED = Event(
    code=EventCode.HEAT_UP_FITTED,
    values=(
        ("verdict", "fits"),
        ("rate_fraction", 0.9),
        ("loss_w_per_k", 3.0),
        ("delay_s", 24.0),
        ("stratification_c", 0.6),
    ),
)


class OneBatch:
    """A record with one batch of that plan and those events."""

    def __init__(self, of: Plan, events: tuple[Event, ...]) -> None:
        self.plan = of
        self.told = events
        self.unreadable = False

    def batches(self) -> tuple[BatchSummary, ...]:
        one = BatchSummary(
            batch=BatchId("b"),
            kettle=self.plan.kettle.name,
            profile="p",
            started_utc_s=BEGAN_UTC_S,
            ended=None,
            ticks=1,
        )
        return (one,)

    def header(self, batch: BatchId) -> BatchHeader:
        if self.unreadable:
            raise JournalError("from a newer program")
        return BatchHeader(
            batch=batch,
            kettle=self.plan.kettle.name,
            plan=self.plan,
            started_utc_s=BEGAN_UTC_S,
            program="0",
            python="3",
        )

    def ticks(self, batch: BatchId) -> Iterator[tuple[int, Inputs]]:
        return iter(())

    def events(self, batch: BatchId) -> Iterator[tuple[int, Event]]:
        return iter(enumerate(self.told))

    def fermentation(self, batch: BatchId) -> tuple[()]:
        return ()

    def unfinished(self, kettle: KettleId) -> BatchId | None:
        return None


def next_of(record: OneBatch, kettle: Kettle | None = None) -> Learnt | None:
    return carried_over(record, kettle or record.plan.kettle)


def test_the_first_heat_up_of_the_last_batch_is_carried_over() -> None:
    learnt = next_of(OneBatch(plan(), (FITTED,)))
    assert learnt is not None
    assert (learnt.rate_fraction, learnt.loss_w_per_k, learnt.delay_s, learnt.heat_ups) == (0.9, 3.0, 24.0, 1)
    assert learnt.learnt_at_utc_s == BEGAN_UTC_S


def test_it_is_merged_into_what_that_batch_knew() -> None:
    known = next_of(OneBatch(plan(), (FITTED,)))
    assert known is not None
    again = next_of(OneBatch(replace(plan(), learnt=replace(known, rate_fraction=1.0)), (FITTED,)))
    assert again is not None
    assert again.rate_fraction == pytest.approx(0.95)
    assert again.heat_ups == 2


def test_a_batch_that_taught_nothing_hands_on_what_it_knew() -> None:
    known = next_of(OneBatch(plan(), (FITTED,)))
    assert next_of(OneBatch(replace(plan(), learnt=known), ())) == known
    assert next_of(OneBatch(plan(), ())) is None


def test_a_kettle_file_with_another_element_begins_anew() -> None:
    record = OneBatch(plan(), (FITTED,))
    assert next_of(record, replace(record.plan.kettle, heater_w=500.0)) is None
    assert next_of(record, replace(record.plan.kettle, name=KettleId("another"))) is None


def alarm(code: EventCode, cause: str, **values: str | bool) -> Event:
    return Event(code=code, values=(("alarm", cause), *values.items()))


def test_safety_alarms_that_stood_at_the_end_are_left_over_and_no_others() -> None:
    events = (
        alarm(EventCode.ALARM_RAISED, "cut_out", safety=True),
        alarm(EventCode.ALARM_RAISED, "weld", safety=True),
        alarm(EventCode.ALARM_RAISED, "link", safety=False),
        alarm(EventCode.ALARM_CHANGED, "link", state="acknowledged"),
        alarm(EventCode.ALARM_CHANGED, "cut_out", state="latched_unacknowledged"),
        alarm(EventCode.ALARM_CHANGED, "weld", state="latched_unacknowledged"),
        alarm(EventCode.ALARM_CHANGED, "weld", state="normal"),
    )
    record = OneBatch(plan(), events)
    latched = AlarmRecord(cause="cut_out", state=AlarmState.LATCHED_UNACKNOWLEDGED, safety=True, since_s=0.0)
    assert left_over(record, record.plan.kettle.name) == (latched,)
    assert left_over(record, KettleId("another")) == ()
    handed_on = OneBatch(replace(plan(), left_over=(latched,)), ())
    assert left_over(handed_on, record.plan.kettle.name) == (latched,)
    reset = OneBatch(handed_on.plan, (alarm(EventCode.ALARM_CHANGED, "cut_out", state="normal"),))
    assert left_over(reset, record.plan.kettle.name) == ()


@pytest.mark.parametrize(
    ("states", "left"),
    [
        (("Running", "Aborting"), ["heat_stopped"]),
        (("Aborting", "Aborted"), ["heat_stopped"]),
        (("Aborted", "Idle"), []),
        (("Running", "Complete"), []),
    ],
)
def test_a_record_that_breaks_off_after_a_stop_of_all_heat_leaves_that_over(
    states: tuple[str, ...], left: list[str]
) -> None:
    events = tuple(Event(code=EventCode.BATCH_STATE, values=(("to", state),)) for state in states)
    record = OneBatch(plan(), events)
    assert [alarm.cause for alarm in left_over(record, record.plan.kettle.name)] == left


def test_no_alarm_of_an_unreadable_record_stops_the_next_batch() -> None:
    record = OneBatch(plan(), (alarm(EventCode.ALARM_RAISED, "cut_out", safety=True),))
    record.unreadable = True
    assert left_over(record, record.plan.kettle.name) == ()


def test_a_record_that_cannot_be_read_stops_no_batch() -> None:
    record = OneBatch(plan(), (FITTED,))
    record.unreadable = True
    assert next_of(record) is None


class SeveralBatches(OneBatch):
    """Newest first, as a record lists them; each began its heat-up with that rate, None: it had none."""

    def __init__(self, of: Plan, rates: tuple[float | None, ...]) -> None:
        super().__init__(of, ())
        self.rates = rates

    def batches(self) -> tuple[BatchSummary, ...]:
        (one,) = super().batches()
        return tuple(replace(one, batch=BatchId(str(nth))) for nth in range(len(self.rates)))

    def events(self, batch: BatchId) -> Iterator[tuple[int, Event]]:
        if self.unreadable:
            raise JournalError("damaged")
        if self.rates[int(batch)] is None:
            return iter(())
        values = dict(FITTED.values) | {"rate_fraction": self.rates[int(batch)]}
        return iter([(1, replace(FITTED, values=tuple(values.items())))])


def test_the_newest_two_batches_of_a_record_are_held_against_those_before() -> None:
    slower = SeveralBatches(plan(), (0.85, 0.86, 1.0, 0.99, 1.01))
    assert [trend.drift for trend in trends_in(slower, slower.plan.kettle.name)] == [Drift.SLOWER]
    faster = SeveralBatches(plan(), (1.0, 0.99, 1.01, 0.85, 0.86))
    assert trends_in(faster, faster.plan.kettle.name) == ()
    assert trends_in(slower, KettleId("another")) == ()


def test_a_batch_that_taught_nothing_has_no_part_in_a_trend() -> None:
    slower = SeveralBatches(plan(), (0.85, None, 0.86, None, 1.0, 0.99, 1.01))
    (trend,) = trends_in(slower, slower.plan.kettle.name)
    assert (trend.drift, trend.now) == (Drift.SLOWER, 0.86)


def test_what_is_older_than_eight_batches_was_another_kettle() -> None:
    """The ninth and older were much quicker: were they counted, the newest two would be slow."""
    aged = SeveralBatches(plan(), (*(0.9,) * 8, *(1.1,) * 12))
    assert trends_in(aged, aged.plan.kettle.name) == ()


def test_a_record_that_cannot_be_read_tells_no_trend_and_stops_nothing(caplog: pytest.LogCaptureFixture) -> None:
    damaged = SeveralBatches(plan(), (0.85, 0.86, 1.0, 0.99, 1.01))
    damaged.unreadable = True
    assert trends_in(damaged, damaged.plan.kettle.name) == ()
    assert "no trend" in caplog.text
