"""The example days: every kettle with every profile that fits. As a module it prints the event hash of a beginning."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from itertools import islice

from kettlebridge.core.validation import misfits
from kettlebridge.files.examples import config_folder
from kettlebridge.files.kettle_file import load_kettle
from kettlebridge.files.profile_file import load_profile
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.inputs import Inputs
from kettlebridge.model.plan import Plan
from kettlebridge.runtime.replay import NumberedEvent, event_hash
from kettlebridge.simulated.virtual_day import VirtualDay

SEED = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """A kettle and a profile by the names of their files."""

    kettle: str
    profile: str

    def plan(self) -> Plan:
        """What a batch of the two is started with."""
        kettle = load_kettle(config_folder() / "kettles" / f"{self.kettle}.toml").kettle
        return Plan(kettle=kettle, profile=load_profile(config_folder() / "profiles" / f"{self.profile}.toml"))

    def __str__(self) -> str:
        return f"{self.kettle}-{self.profile}"


def pairs() -> tuple[Pair, ...]:
    """Those that fit."""
    return tuple(pair for pair in every_pair() if not misfits(pair.plan().kettle, pair.plan().profile))


def every_pair() -> Iterator[Pair]:
    """All of them."""
    for kettle in sorted((config_folder() / "kettles").glob("*.toml")):
        for profile in sorted((config_folder() / "profiles").glob("*.toml")):
            yield Pair(kettle=kettle.stem, profile=profile.stem)


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """What went in at each tick, what came of it with the number of its tick, and where it ended."""

    inputs: tuple[Inputs, ...]
    events: tuple[NumberedEvent, ...]
    ended: BatchState

    def codes(self, code: EventCode) -> list[Event]:
        """The events of that code."""
        return [event for _, event in self.events if event.code is code]


@cache
def lived(pair: Pair, ticks: int | None = None) -> Day:
    """The day with plant and brewer, or its first `ticks`, once."""
    inputs: list[Inputs] = []
    events: list[NumberedEvent] = []
    ended = BatchState.IDLE
    for n, second in enumerate(islice(VirtualDay(pair.plan(), seed=SEED).seconds(), ticks)):
        inputs.append(second.inputs)
        events.extend((n, event) for event in second.events)
        ended = second.state.batch
    return Day(inputs=tuple(inputs), events=tuple(events), ended=ended)


if __name__ == "__main__":
    kettle, profile, ticks = sys.argv[1:]
    sys.stdout.write(event_hash(lived(Pair(kettle=kettle, profile=profile), int(ticks)).events))
