"""Wall clocks: the only module that knows of zones and daylight saving. Everything else counts seconds of UTC."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from enum import Enum
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from kettlebridge.model.errors import OperatorError
from kettlebridge.model.time_of_day import HH_MM

SYSTEM_ZONE_FILE = Path("/etc/localtime")


class ClockChange(Enum):
    """What the change to or from daylight saving did to a time of day."""

    NONE = "none"
    REPEATED = "repeated"
    SKIPPED = "skipped"


@dataclass(frozen=True, slots=True, kw_only=True)
class Resolved:
    """The instant that a time of day was taken for.

    `change`: a time that the clock shows twice is the first of the two; one that it skips is the first instant after
    the gap. `local` is the instant as the clock shows it, with date and abbreviation.
    """

    at_utc_s: float
    local: str
    change: ClockChange


class ZoneTime:
    """Times of day in one zone."""

    def __init__(self, zone: tzinfo) -> None:
        self._zone = zone

    def next_at(self, hh_mm: str, after_utc_s: float) -> Resolved:
        """The next instant after `after_utc_s` that "HH:MM" stands for. Raises OperatorError for any other text."""
        found = re.fullmatch(HH_MM, hh_mm)
        if not found:
            raise OperatorError(f'"{hh_mm}" is no time of day: HH:MM, 00:00 to 23:59')
        wanted = time(int(found[1]), int(found[2]))
        today = datetime.fromtimestamp(after_utc_s, self._zone).date()
        days = (today + timedelta(days=ahead) for ahead in range(-1, 3))
        moments = (self._on_day(day, wanted) for day in days)
        return next(moment for moment in moments if moment.at_utc_s > after_utc_s)

    def hh_mm(self, at_utc_s: float) -> str:
        """The time of day that the clock shows, "HH:MM"."""
        return datetime.fromtimestamp(at_utc_s, self._zone).strftime("%H:%M")

    def date_hh_mm(self, at_utc_s: float) -> str:
        """The day and time that calendar and clock show, "YYYY-MM-DD HH:MM"."""
        return datetime.fromtimestamp(at_utc_s, self._zone).strftime("%Y-%m-%d %H:%M")

    def _on_day(self, day: date, wanted: time) -> Resolved:
        first_s, second_s = (
            datetime.combine(day, wanted.replace(fold=fold), self._zone).timestamp() for fold in (0, 1)
        )
        if first_s == second_s:
            return self._resolved(first_s, ClockChange.NONE)
        if first_s < second_s:
            return self._resolved(first_s, ClockChange.REPEATED)
        return self._resolved(self._end_of_gap(second_s, first_s), ClockChange.SKIPPED)

    def _end_of_gap(self, before_s: float, after_s: float) -> float:
        """The second at which the clock is put forward, between an instant before it and one not before it."""
        low, high = int(before_s), int(after_s)
        later = self._offset(high)
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (low, middle) if self._offset(middle) == later else (middle, high)
        return float(high)

    def _offset(self, at_utc_s: float) -> timedelta | None:
        return datetime.fromtimestamp(at_utc_s, self._zone).utcoffset()

    def _resolved(self, at_utc_s: float, change: ClockChange) -> Resolved:
        local = datetime.fromtimestamp(at_utc_s, self._zone).strftime("%Y-%m-%d %H:%M %Z")
        return Resolved(at_utc_s=at_utc_s, local=local, change=change)


def utc_stamp(at_utc_s: float) -> str:
    """The instant in UTC as "YYYYMMDDTHHMMSS", for names."""
    return datetime.fromtimestamp(at_utc_s, UTC).strftime("%Y%m%dT%H%M%S")


def zone_time(name: str) -> ZoneTime:
    """Times of day in a zone of the tz database, such as "Europe/Oslo". Raises OperatorError for an unknown one."""
    try:
        return ZoneTime(ZoneInfo(name))
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise OperatorError(f'no time zone "{name}" is known here') from error


def system_time(environment: Mapping[str, str] = os.environ, zone_file: Path = SYSTEM_ZONE_FILE) -> ZoneTime:
    """Times of day as this machine's clock shows them: TZ, else /etc/localtime, else UTC."""
    name = environment.get("TZ", "").removeprefix(":")
    if name:
        return zone_time(name)
    try:
        with zone_file.open("rb") as file:
            return ZoneTime(ZoneInfo.from_file(file))
    except (OSError, ValueError):
        return ZoneTime(UTC)
