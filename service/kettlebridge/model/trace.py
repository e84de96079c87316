"""The course of a batch so far: thinned columns of figures, the steps it went through, and what happened in it."""

from __future__ import annotations

from dataclasses import dataclass

from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.ids import BatchId
from kettlebridge.model.plan import StepKind
from kettlebridge.model.snapshot import Snapshot


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """Columns of equal length. `at_s` is batch time and rises; None where nothing was known.

    Two neighbours further apart than `gap_s` have time without data between them.
    """

    at_s: tuple[float, ...] = ()
    temperature_c: tuple[float | None, ...] = ()
    target_c: tuple[float | None, ...] = ()
    heater_fraction: tuple[float, ...] = ()
    gap_s: float = 60.0

    def __len__(self) -> int:
        return len(self.at_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A step as it was lived, in batch time; `ended_s` is None for the step in hand."""

    index: int
    name: str
    kind: StepKind
    begun_s: float
    ended_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Happening:
    """An event, and the view of the batch at the tick it came from."""

    event: Event
    seen: Snapshot

    @property
    def at_s(self) -> float:
        """Batch time."""
        return self.seen.now_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """`last` is the newest view of the batch, None before its first tick."""

    batch: BatchId
    series: Series
    spans: tuple[Span, ...] = ()
    happenings: tuple[Happening, ...] = ()
    last: Snapshot | None = None

    @property
    def boil_told_s(self) -> float | None:
        """Batch time when the boil was found."""
        found = self._boil_found()
        return None if found is None else found.at_s

    @property
    def boil_began_s(self) -> float | None:
        """Batch time; a boil is told later than it began."""
        found = self._boil_found()
        if found is None:
            return None
        ago_s = found.event.number("began_s_ago")
        return found.at_s if ago_s is None else found.at_s - ago_s

    def of(self, code: EventCode) -> tuple[Happening, ...]:
        """What happened of one kind, in its order."""
        return tuple(each for each in self.happenings if each.event.code is code)

    def _boil_found(self) -> Happening | None:
        return next(iter(self.of(EventCode.BOIL_FOUND)), None)
