"""What counts as late, and when a report was made."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kettlebridge.drivers.serial_line.board_time import WRAP_MS, BoardTime


def test_quickest_report_of_the_minute_tells_the_offset() -> None:
    time = BoardTime(5_000, claimed_s=99.9)
    for up_ms, received_s in [(5_000, 100.3), (5_500, 100.6), (6_000, 101.4)]:
        time.learn(up_ms, received_s)
    assert time.clock_s(6_000) == pytest.approx(101.1)
    assert time.late_s(6_000, 101.4) == pytest.approx(0.3)


def test_offset_is_forgotten_after_a_minute_so_that_a_slow_board_clock_is_followed() -> None:
    time = BoardTime(0, claimed_s=0.0)
    for n in range(1201):
        up_ms = n * 500
        received_s = up_ms / 1000 * 1.01  # a board clock 1 % slow, for ten minutes
        assert time.late_s(up_ms, received_s) < 0.7
        time.learn(up_ms, received_s)


def test_first_report_can_not_be_older_than_the_claim() -> None:
    time = BoardTime(5_000, claimed_s=100.0)
    assert time.late_s(5_000, 130.0) == pytest.approx(30.0)


def test_backlog_of_any_length_stays_late_and_its_end_is_fresh() -> None:
    time = BoardTime(0, claimed_s=0.0)
    time.learn(0, 0.0)
    released_s = 600.0  # ten minutes of reports arrive at once: longer than the window
    for up_ms in range(500, 599_000, 500):
        assert time.is_newer(up_ms)
        assert time.late_s(up_ms, released_s) >= 1.0
        time.note(up_ms)
    assert time.late_s(600_000, released_s) == pytest.approx(0.0)


@given(st.integers(0, WRAP_MS - 1), st.lists(st.integers(1, 10_000), min_size=1, max_size=50))
def test_uptime_wraps_without_a_jump(first_up_ms: int, steps_ms: list[int]) -> None:
    time = BoardTime(first_up_ms, claimed_s=0.0)
    time.learn(first_up_ms, 0.0)
    since_ms = 0
    for step_ms in steps_ms:
        since_ms += step_ms
        up_ms = (first_up_ms + since_ms) % WRAP_MS
        assert time.is_newer(up_ms)
        time.learn(up_ms, since_ms / 1000)
        assert time.clock_s(up_ms) == pytest.approx(since_ms / 1000)
        assert not time.is_newer(up_ms)


def test_report_from_before_is_not_newer_even_across_the_wrap() -> None:
    time = BoardTime(WRAP_MS - 200, claimed_s=0.0)
    time.learn(WRAP_MS - 200, 0.0)
    time.learn(300, 0.5)
    assert not time.is_newer(WRAP_MS - 100)
    assert time.has_noted(WRAP_MS - 200)
    assert time.has_noted(300)
    assert not time.has_noted(301)
    assert not time.has_noted(WRAP_MS - 201)


def test_nothing_is_noted_before_the_first_report() -> None:
    time = BoardTime(5_000, claimed_s=100.0)
    assert time.is_newer(5_000)
    assert not time.is_newer(4_999)
    assert not time.has_noted(5_000)
    time.note(5_000)
    assert not time.is_newer(5_000)
    assert time.has_noted(5_000)


def test_what_was_noted_and_not_learnt_from_tells_no_offset() -> None:
    time = BoardTime(5_000, claimed_s=100.0)
    time.note(5_500)
    assert time.clock_s(5_500) == pytest.approx(100.5)
    assert time.since_first_ms(5_500) == 500
    assert (time.is_newer(5_500), time.is_newer(5_501)) == (False, True)


def test_a_quick_report_counts_for_just_a_minute_of_the_board() -> None:
    time = BoardTime(0, claimed_s=0.0)
    time.learn(0, 10.0)
    time.learn(60_000, 71.0)
    assert time.clock_s(60_000) == pytest.approx(70.0)
    time.learn(60_001, 71.001)
    assert time.clock_s(60_001) == pytest.approx(71.001)


def test_as_quick_a_report_again_renews_the_minute() -> None:
    time = BoardTime(0, claimed_s=0.0)
    time.learn(0, 10.0)
    time.learn(30_000, 40.0)
    time.learn(70_000, 82.0)
    assert time.clock_s(70_000) == pytest.approx(80.0)


@pytest.mark.parametrize(
    ("off_ms", "since_ms"), [(2**31 - 1, 2**31 - 1), (2**31, -(2**31)), (-(2**31), -(2**31)), (-1, -1)]
)
def test_half_the_round_lies_ahead_and_half_behind(off_ms: int, since_ms: int) -> None:
    time = BoardTime(7, claimed_s=0.0)
    time.note(7)
    assert time.since_first_ms((7 + off_ms) % WRAP_MS) == since_ms


def test_a_slow_report_before_a_quicker_one_never_counts_again() -> None:
    time = BoardTime(0, claimed_s=0.0)
    for up_ms, received_s in [(0, 10.0), (30_000, 45.0), (40_000, 52.0), (60_001, 80.0)]:
        time.learn(up_ms, received_s)
    assert time.clock_s(60_001) == pytest.approx(72.001)
