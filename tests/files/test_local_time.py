"""Times of day across daylight saving. Rules of the zones: tz database, as this machine has it."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kettlebridge.files.local_time import ClockChange, system_time, zone_time
from kettlebridge.model.errors import OperatorError

try:
    ZoneInfo("Europe/Berlin")
except ZoneInfoNotFoundError:
    pytest.skip("no tz database here: install the system's tzdata", allow_module_level=True)


def utc_s(iso: str) -> float:
    return datetime.fromisoformat(iso).timestamp()


# zone, time of day, asked at, the instant it stands for, what happened, as the clock shows it
CASES = {
    "later today": (
        "Europe/Berlin",
        "07:30",
        "2026-01-10T05:00+01:00",
        "2026-01-10T07:30+01:00",
        ClockChange.NONE,
        "2026-01-10 07:30 CET",
    ),
    "tomorrow": (
        "Europe/Berlin",
        "07:30",
        "2026-01-10T22:00+01:00",
        "2026-01-11T07:30+01:00",
        ClockChange.NONE,
        "2026-01-11 07:30 CET",
    ),
    "just now is tomorrow": (
        "Europe/Berlin",
        "07:30",
        "2026-01-10T07:30+01:00",
        "2026-01-11T07:30+01:00",
        ClockChange.NONE,
        "2026-01-11 07:30 CET",
    ),
    "an hour less to sleep": (
        "Europe/Berlin",
        "07:30",
        "2026-03-28T22:00+01:00",
        "2026-03-29T07:30+02:00",
        ClockChange.NONE,
        "2026-03-29 07:30 CEST",
    ),
    "skipped": (
        "Europe/Berlin",
        "02:30",
        "2026-03-28T22:00+01:00",
        "2026-03-29T03:00+02:00",
        ClockChange.SKIPPED,
        "2026-03-29 03:00 CEST",
    ),
    "first skipped minute": (
        "Europe/Berlin",
        "02:00",
        "2026-03-28T22:00+01:00",
        "2026-03-29T03:00+02:00",
        ClockChange.SKIPPED,
        "2026-03-29 03:00 CEST",
    ),
    "after the gap it is tomorrow's": (
        "Europe/Berlin",
        "02:30",
        "2026-03-29T03:00+02:00",
        "2026-03-30T02:30+02:00",
        ClockChange.NONE,
        "2026-03-30 02:30 CEST",
    ),
    "an hour more to sleep": (
        "Europe/Berlin",
        "07:30",
        "2026-10-24T22:00+02:00",
        "2026-10-25T07:30+01:00",
        ClockChange.NONE,
        "2026-10-25 07:30 CET",
    ),
    "shown twice": (
        "Europe/Berlin",
        "02:30",
        "2026-10-24T22:00+02:00",
        "2026-10-25T02:30+02:00",
        ClockChange.REPEATED,
        "2026-10-25 02:30 CEST",
    ),
    "between the two it is tomorrow's": (
        "Europe/Berlin",
        "02:30",
        "2026-10-25T02:45+02:00",
        "2026-10-26T02:30+01:00",
        ClockChange.NONE,
        "2026-10-26 02:30 CET",
    ),
    "half an hour's change": (
        "Australia/Lord_Howe",
        "02:15",
        "2026-10-03T20:00+10:30",
        "2026-10-04T02:30+11:00",
        ClockChange.SKIPPED,
        "2026-10-04 02:30 +11",
    ),
    "other half of the world": (
        "America/Denver",
        "06:00",
        "2026-03-07T23:00-07:00",
        "2026-03-08T06:00-06:00",
        ClockChange.NONE,
        "2026-03-08 06:00 MDT",
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_time_of_day_stands_for_one_instant(name: str) -> None:
    zone, hh_mm, asked_at, expected, change, local = CASES[name]
    resolved = zone_time(zone).next_at(hh_mm, utc_s(asked_at))
    assert (resolved.at_utc_s, resolved.change, resolved.local) == (utc_s(expected), change, local)


@given(
    zone=st.sampled_from(["Europe/Berlin", "Australia/Lord_Howe", "America/St_Johns", "Asia/Kathmandu", "UTC"]),
    hour=st.integers(0, 23),
    minute=st.integers(0, 59),
    after_utc_s=st.floats(1.6e9, 2.0e9),
)
def test_instant_lies_ahead_within_two_days_and_shows_what_was_asked(
    zone: str, hour: int, minute: int, after_utc_s: float
) -> None:
    hh_mm = f"{hour:02}:{minute:02}"
    clock = zone_time(zone)
    resolved = clock.next_at(hh_mm, after_utc_s)
    assert 0 < resolved.at_utc_s - after_utc_s <= 49 * 3600
    assert resolved.change is ClockChange.SKIPPED or clock.hh_mm(resolved.at_utc_s) == hh_mm


def test_instant_is_shown_as_local_time() -> None:
    assert zone_time("Asia/Kathmandu").hh_mm(utc_s("2026-05-01T00:00+00:00")) == "05:45"


@pytest.mark.parametrize("hh_mm", ["24:00", "7:30", "07:60", "0730", "", "07:30:00", "٠٧:٣٠"])
def test_what_is_no_time_of_day_is_refused(hh_mm: str) -> None:
    with pytest.raises(OperatorError, match="HH:MM"):
        zone_time("UTC").next_at(hh_mm, 0.0)


@pytest.mark.parametrize("name", ["Europe/Nowhere", "../etc/passwd", "", "/etc/localtime", "Europe", "a\0b"])
def test_unknown_zone_is_refused(name: str) -> None:
    with pytest.raises(OperatorError, match="no time zone"):
        zone_time(name)


def test_zone_of_the_machine_is_tz_first(tmp_path: Path) -> None:
    clock = system_time({"TZ": ":Asia/Kathmandu"}, tmp_path / "none")
    assert clock.hh_mm(0.0) == "05:30"  # Nepal stood at +05:30 until 1986


def test_zone_of_the_machine_is_utc_where_it_does_not_say(tmp_path: Path) -> None:
    assert system_time({}, tmp_path / "none").hh_mm(0.0) == "00:00"


def test_zone_file_that_is_none_counts_as_none(tmp_path: Path) -> None:
    (tmp_path / "localtime").write_text("not a zone")
    assert system_time({}, tmp_path / "localtime").hh_mm(0.0) == "00:00"
