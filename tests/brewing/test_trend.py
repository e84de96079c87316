"""What changes from batch to batch: told when two batches agree, and not for one odd jug of water."""

from __future__ import annotations

import pytest

from kettlebridge.brewing.trend import Drift, Fit, fit_of, trends
from kettlebridge.documents.trend_words import DO, trend_words
from kettlebridge.model.event import Event, EventCode

USUAL = [
    Fit(rate_fraction=0.98, delay_s=21.0),
    Fit(rate_fraction=1.01, delay_s=19.0),
    Fit(rate_fraction=0.99, delay_s=22.0),
]


def test_two_batches_that_warm_a_tenth_slower_are_told() -> None:
    found = trends([*USUAL, Fit(rate_fraction=0.9, delay_s=20.0), Fit(rate_fraction=0.88, delay_s=21.0)])
    assert [trend.drift for trend in found] == [Drift.SLOWER]
    assert "9 % slower" in trend_words(found[0])
    assert DO[Drift.SLOWER] in trend_words(found[0])


def test_a_probe_that_answers_half_as_fast_is_told() -> None:
    found = trends([*USUAL, Fit(rate_fraction=0.98, delay_s=36.0), Fit(rate_fraction=1.0, delay_s=40.0)])
    assert [trend.drift for trend in found] == [Drift.LATER]
    assert "after 36 s, before 21 s" in trend_words(found[0])


def test_one_batch_alone_proves_nothing() -> None:
    assert trends([*USUAL, Fit(rate_fraction=1.0, delay_s=20.0), Fit(rate_fraction=0.85, delay_s=45.0)]) == ()


def test_what_litres_and_mains_do_is_no_trend() -> None:
    assert trends([*USUAL, Fit(rate_fraction=0.95, delay_s=24.0), Fit(rate_fraction=0.94, delay_s=25.0)]) == ()


def test_a_young_kettle_has_no_trend() -> None:
    assert trends([*USUAL[:2], Fit(rate_fraction=0.8, delay_s=50.0), Fit(rate_fraction=0.8, delay_s=50.0)]) == ()


def test_the_figures_come_from_the_record_of_a_batch() -> None:
    told = Event(code=EventCode.HEAT_UP_FITTED, values=(("rate_fraction", 0.97), ("delay_s", 18.5)))
    assert fit_of([told]) == Fit(rate_fraction=0.97, delay_s=18.5)
    assert fit_of([]) is None
    other = Event(code=EventCode.PROBE, values=(("rate_fraction", 0.5), ("delay_s", 99.0)))
    assert fit_of([other, told]) == fit_of([told])


def test_a_record_without_both_figures_has_no_fit() -> None:
    for values in ((("rate_fraction", 0.97),), (("rate_fraction", 0.97), ("delay_s", "late")), (("delay_s", 18.5),)):
        assert fit_of([Event(code=EventCode.HEAT_UP_FITTED, values=values)]) is None


def with_delays(before_s: float, now_s: float) -> list[Fit]:
    return [Fit(rate_fraction=1.0, delay_s=delay_s) for delay_s in (*(before_s,) * 3, *(now_s,) * 2)]


def test_a_probe_is_late_by_its_share_and_by_seconds_both() -> None:
    """Half as long again is nothing with a quick probe, eight seconds nothing with a slow one."""
    assert trends(with_delays(before_s=8.0, now_s=12.5)) == ()
    assert trends(with_delays(before_s=30.0, now_s=40.0)) == ()
    assert [trend.drift for trend in trends(with_delays(before_s=20.0, now_s=29.0))] == [Drift.LATER]


def test_of_four_batches_before_the_middle_is_between_the_two_in_the_middle() -> None:
    rates = (0.9, 1.0, 1.06, 1.2, 0.955, 0.955)
    (slower,) = trends([Fit(rate_fraction=rate, delay_s=20.0) for rate in rates])
    assert slower.before == pytest.approx(1.03)
