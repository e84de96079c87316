"""A recorded batch run through the core again: the same build must make the same events of the same inputs."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import zip_longest

from kettlebridge.model.event import Event
from kettlebridge.model.inputs import Inputs
from kettlebridge.model.plan import Plan
from kettlebridge.runtime.fold import Core, S, fold

NumberedEvent = tuple[int, Event]
"""An event and the number of its tick."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """The first place where record and replay part; None: that side has no more events."""

    recorded: NumberedEvent | None
    replayed: NumberedEvent | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Replayed:
    """What a replay made of `ticks` ticks. `difference` is None when every event is the recorded one."""

    ticks: int
    event_hash: str
    difference: Difference | None


def canonical(n: int, event: Event) -> bytes:
    """One line of JSON. Raises ValueError for a number that JSON does not have."""
    line = json.dumps([n, event.code.value, event.values], separators=(",", ":"), allow_nan=False)
    return line.encode("ascii") + b"\n"


def event_hash(events: Iterable[NumberedEvent]) -> str:
    """SHA-256 over the canonical lines of `events`, in hex."""
    digest = hashlib.sha256()
    for n, event in events:
        digest.update(canonical(n, event))
    return digest.hexdigest()


def replay(
    core: Core[S], plan: Plan, ticks: Iterable[tuple[int, Inputs]], recorded: Iterable[NumberedEvent]
) -> Replayed:
    """Folds `ticks` again and holds the events against `recorded`. Raises JournalError where a tick is missing."""
    digest = hashlib.sha256()
    difference = None
    count = 0

    def again() -> Iterator[NumberedEvent]:
        nonlocal count
        for n, ticked in fold(core, plan, ticks):
            count += 1
            for event in ticked.events:
                yield n, event

    for was, now in zip_longest(recorded, again()):
        if now is not None:
            digest.update(canonical(*now))
        if difference is None and (was is None or now is None or canonical(*was) != canonical(*now)):
            difference = Difference(recorded=was, replayed=now)
    return Replayed(ticks=count, event_hash=digest.hexdigest(), difference=difference)
