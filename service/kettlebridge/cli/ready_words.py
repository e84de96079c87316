"""What becomes of `ready_at`, said plainly before anything heats."""

from __future__ import annotations

from kettlebridge.files.local_time import ClockChange, ZoneTime

CHANGE_WORDS: dict[ClockChange, str] = {
    ClockChange.NONE: "",
    ClockChange.REPEATED: ": the clock shows {hh_mm} twice that night, and the first of the two is meant",
    ClockChange.SKIPPED: ": the clock skips {hh_mm} that night, and the first moment after the gap is meant",
}


def ready_words(hh_mm: str, time: ZoneTime, now_utc_s: float) -> str:
    """When the water will be hot, and why then. Raises OperatorError where that is no time of day."""
    resolved = time.next_at(hh_mm, now_utc_s)
    today, meant = (time.date_hh_mm(at_utc_s).split()[0] for at_utc_s in (now_utc_s, resolved.at_utc_s))
    passed = f"; {hh_mm} has passed today" if meant != today and time.hh_mm(now_utc_s) >= hh_mm else ""
    return f"ready at {resolved.local}{CHANGE_WORDS[resolved.change].format(hh_mm=hh_mm)}{passed}"
