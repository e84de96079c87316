"""The course of a batch for other programs: CSV of the figures, JSON values of the events."""

from __future__ import annotations

from collections.abc import Iterator

from kettlebridge.model.event import Scalar
from kettlebridge.model.trace import Trace

COLUMNS = ("at_s", "temperature_c", "target_c", "heater_fraction")


def series_csv(trace: Trace) -> str:
    """One line a point, RFC 4180 with LF; unknown is empty. Units are in the names of the columns."""
    series = trace.series
    rows = zip(series.at_s, series.temperature_c, series.target_c, series.heater_fraction, strict=True)
    lines = (",".join("" if value is None else f"{value:.10g}" for value in row) for row in rows)
    return "\n".join((",".join(COLUMNS), *lines, ""))


def events_json(trace: Trace) -> Iterator[dict[str, float | str | dict[str, Scalar]]]:
    """Each event with its batch time, wall time, code and values."""
    for happening in trace.happenings:
        yield {
            "at_s": happening.at_s,
            "at_utc_s": happening.seen.at_utc_s,
            "code": happening.event.code.value,
            "values": dict(happening.event.values),
        }
