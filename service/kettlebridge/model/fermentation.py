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


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """What a probe in the fermenter told just now; `gravity_sg` at 20 °C by its own word, None where it tells none."""

    at_c: float
    gravity_sg: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbeReading:
    """The same, as it is kept."""

    at_utc_s: float
    at_c: float
    gravity_sg: float | None = None
