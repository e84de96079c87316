"""Digital thermometers on one bus: what the firmware gets when it reads them after a conversion."""

from __future__ import annotations

from collections.abc import Callable
from enum import Enum

CONVERSION_MS = 750
"""A conversion to 12 bits (DS18B20 data sheet, table of resolution and conversion time)."""

_STEP_C = 0.0625
_LOWEST_C = -55.0
_HIGHEST_C = 125.0


class Trouble(Enum):
    """Why there is no temperature: the number after E on the wire."""

    NO_ANSWER = 1
    BAD_CRC = 2
    LINE_SHORT = 3
    LOST_POWER = 4
    NONE_YET = 5


class ProbeFault(Enum):
    """What is wrong with a probe, and what the firmware makes of it."""

    OPEN = Trouble.NO_ANSWER
    BAD_CRC = Trouble.BAD_CRC
    SHORT = Trouble.LINE_SHORT
    LOST_POWER = Trouble.LOST_POWER


class Probe:
    """One probe. `name` is where it hangs in the kettle, `rom` its serial number.

    Faults are plain attributes: `fault`, a reading stuck at `stuck_c`, or one that is off by `offset_c`. `change` makes
    of what it reads what the firmware gets, None for no answer; that is not held to the range of the part.
    """

    def __init__(self, name: str, rom: str) -> None:
        self.name = name
        self.rom = rom
        self.fault: ProbeFault | None = None
        self.stuck_c: float | None = None
        self.offset_c = 0.0
        self.change: Callable[[float], float | None] | None = None

    def converted(self, read_c: Callable[[str], float]) -> float | Trouble:
        """The temperature in °C in steps of 1/16, held to the range of the part, or why there is none."""
        if self.fault is not None:
            return self.fault.value
        if self.stuck_c is not None:
            return self.stuck_c
        felt_c = read_c(self.name) + self.offset_c
        if self.change is not None:
            told_c = self.change(felt_c)
            return Trouble.NO_ANSWER if told_c is None else told_c
        return min(_HIGHEST_C, max(_LOWEST_C, round(felt_c / _STEP_C) * _STEP_C))


class ProbeBus:
    """All probes of a board; they convert together. A short takes the whole bus down."""

    def __init__(self, probes: tuple[Probe, ...], read_c: Callable[[str], float]) -> None:
        self.probes = probes
        self._read_c = read_c
        self._results: tuple[float | Trouble, ...] = ()
        self._ended_ms = 0
        self.reset(0)

    def reset(self, at_ms: int) -> None:
        """Forgets every conversion."""
        self._results = (Trouble.NONE_YET,) * len(self.probes)
        self._ended_ms = at_ms

    def convert(self, at_ms: int) -> None:
        """A conversion of all of them ended at `at_ms`."""
        self._ended_ms = at_ms
        if any(probe.fault is ProbeFault.SHORT for probe in self.probes):
            self._results = (Trouble.LINE_SHORT,) * len(self.probes)
        else:
            self._results = tuple(probe.converted(self._read_c) for probe in self.probes)

    def told(self, at_ms: int) -> list[tuple[str, str]]:
        """The pairs `t0=66.4375/310` or `t0=E1/310`: value and age in ms since the end of the conversion."""
        age_ms = at_ms - self._ended_ms
        return [
            (f"t{index}", f"E{result.value}/{age_ms}" if isinstance(result, Trouble) else f"{result:.4f}/{age_ms}")
            for index, result in enumerate(self._results)
        ]

    def roms(self) -> tuple[str, ...]:
        """The ROM id of each index."""
        return tuple(probe.rom for probe in self.probes)
