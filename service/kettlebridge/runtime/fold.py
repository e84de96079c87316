"""The core as the runtime sees it, and the fold of inputs through it: the one way from a record to a state."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Generic, Protocol, TypeVar

from kettlebridge.model.demand import Demand
from kettlebridge.model.errors import JournalError
from kettlebridge.model.event import Event
from kettlebridge.model.forecast import Forecast
from kettlebridge.model.ids import BatchId
from kettlebridge.model.inputs import Inputs
from kettlebridge.model.plan import Plan
from kettlebridge.model.snapshot import Snapshot


class Memory(Protocol):
    """What the runtime reads of the core's state: `n` ticks are folded, the last one at these times."""

    @property
    def n(self) -> int:
        """Ticks folded so far: the number of the next one."""

    @property
    def now_s(self) -> float:
        """Batch time of the last tick."""

    @property
    def at_utc_s(self) -> float:
        """Wall time of the last tick."""


S = TypeVar("S", bound=Memory)
S_co = TypeVar("S_co", bound=Memory, covariant=True)


class Ticked(Protocol[S_co]):
    """What a tick gives."""

    @property
    def state(self) -> S_co:
        """The state that follows."""

    @property
    def demands(self) -> tuple[Demand, ...]:
        """What to renew; empty: nothing."""

    @property
    def events(self) -> tuple[Event, ...]:
        """What happened."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Core(Generic[S]):
    """The pure functions that decide, and one that only looks ahead."""

    initial: Callable[[Plan], S]
    tick: Callable[[Plan, S, Inputs], Ticked[S]]
    snapshot: Callable[[Plan, BatchId, S], Snapshot]
    forecast: Callable[[Plan, S], Forecast | None]


def fold(core: Core[S], plan: Plan, ticks: Iterable[tuple[int, Inputs]]) -> Iterator[tuple[int, Ticked[S]]]:
    """Each recorded tick again, from the first. Raises JournalError where one is missing."""
    state = core.initial(plan)
    for n, inputs in ticks:
        if n != state.n:
            raise JournalError(f"tick {state.n} is missing from the record: the next one in it is {n}")
        ticked = core.tick(plan, state, inputs)
        yield n, ticked
        state = ticked.state
