"""What is said of a ready time that has passed, comes twice, or not at all."""

from __future__ import annotations

import pytest

from kettlebridge.cli.ready_words import ready_words
from kettlebridge.files.local_time import zone_time

OSLO = zone_time("Europe/Oslo")
NOON_UTC_S = 1_792_836_000.0  # 2026-10-24 12:00 CEST; the clock is put back that night (tz database 2025b)
SPRING_UTC_S = 1_774_692_000.0  # 2026-03-28 11:00 CET; put forward that night


TWICE = "the clock shows 02:30 twice that night, and the first of the two is meant"
SKIPPED = "the clock skips 02:30 that night, and the first moment after the gap is meant"
PASSED = "02:30 has passed today"


@pytest.mark.parametrize(
    ("hh_mm", "now_utc_s", "said"),
    [
        ("13:00", NOON_UTC_S, "ready at 2026-10-24 13:00 CEST"),
        ("11:00", NOON_UTC_S, "ready at 2026-10-25 11:00 CET; 11:00 has passed today"),
        ("02:30", NOON_UTC_S, f"ready at 2026-10-25 02:30 CEST: {TWICE}; {PASSED}"),
        ("02:30", SPRING_UTC_S, f"ready at 2026-03-29 03:00 CEST: {SKIPPED}; {PASSED}"),
    ],
)
def test_what_will_happen_is_said(hh_mm: str, now_utc_s: float, said: str) -> None:
    assert ready_words(hh_mm, OSLO, now_utc_s) == said
