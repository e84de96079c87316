"""What is measured in a fermenter."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class FermentReading:
    """A hydrometer's reading: `read_sg` as it showed at `at_c`, `gravity_sg` the same at 20 °C."""

    at_utc_s: float
    read_sg: float
    at_c: float
    gravity_sg: float
