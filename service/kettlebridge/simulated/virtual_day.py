"""A brew day as a plain fold in virtual time: simulated kettle, tick, simulated brewer; no wire, no clock, no I/O."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from kettlebridge.core.snapshot import snapshot
from kettlebridge.core.state import State, initial
from kettlebridge.core.tick import tick
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import Command, CommandKind
from kettlebridge.model.event import Event
from kettlebridge.model.ids import BatchId, CommandId, ProbeName
from kettlebridge.model.inputs import Inputs
from kettlebridge.model.plan import Plan
from kettlebridge.model.reading import Reading
from kettlebridge.simulated.brewer import SimulatedBrewer
from kettlebridge.simulated.fold_board import READING_AGE_S, FoldBoard
from kettlebridge.simulated.kettle import body_of, read_c
from kettlesim.world import World

PERIOD_S = 1.0
LOOK_EVERY_TICKS = 5
SETTLED_TICKS = 8
"""A probe is believed once four readings agree; the day begins after that."""
LONGEST_DAY_S = 24 * 3600.0
STARTED_UTC_S = 1_800_000_000.0
"""An arbitrary instant: a virtual day has no date of its own."""
OVER = frozenset({BatchState.COMPLETE, BatchState.STOPPED, BatchState.ABORTED, BatchState.HELD})


@dataclass(frozen=True, slots=True, kw_only=True)
class Second:
    """One tick of the day: the state it left, what happened in it, and what it was given."""

    state: State
    inputs: Inputs
    events: tuple[Event, ...]


def truly(probe: ProbeName, read_c: float) -> float | None:
    """A probe that tells what it reads."""
    return read_c


class VirtualDay:
    """`plan` on a simulated kettle with a simulated brewer. The same seed gives the same day.

    `tells` is what a probe makes of what it reads, None for silence. `brewer_away`: nobody answers any more.
    """

    def __init__(self, plan: Plan, *, seed: int, world: World | None = None) -> None:
        self.plan = plan
        self.world = World(body_of(plan.kettle), seed=seed, probe_offset_c=0.0) if world is None else world
        self.brewer = SimulatedBrewer(plan, self.world, seed=seed)
        self.board = FoldBoard(plan.kettle)
        self.tells: Callable[[ProbeName, float], float | None] = truly
        self.brewer_away = False
        self.state = initial(plan)
        self.now_s = 0.0
        self._commands: tuple[Command, ...] = ()
        self._told: list[Command] = []

    @property
    def over(self) -> bool:
        """Whether the day is over, or has lasted 24 h."""
        return self.state.batch in OVER or self.now_s >= LONGEST_DAY_S

    def tell(self, *commands: Command) -> None:
        """Gives the next tick what somebody says besides the simulated brewer."""
        self._told.extend(commands)

    def seconds(self) -> Iterator[Second]:
        """The day, tick by tick, until it is over."""
        while not self.over:
            yield self.second()

    def second(self) -> Second:
        """The next tick, and what the brewer makes of it."""
        self.now_s += PERIOD_S
        self.world.advance(self.board.outputs(), PERIOD_S)
        self.board.up_ms += round(1000 * PERIOD_S)
        self.board.feel(self.world.inputs_now())
        if self.state.n == SETTLED_TICKS:
            self._commands = (
                Command(id=CommandId("bench.start"), kind=CommandKind.START, who="bench", at_kettle=True),
            )
        inputs = self._inputs()
        self._told.clear()
        ticked = tick(self.plan, self.state, inputs)
        self.state = ticked.state
        self.board.obey(ticked.demands)
        looks = ticked.events or (ticked.state.calls and ticked.state.n % LOOK_EVERY_TICKS == 0)
        if looks and not self.brewer_away:
            self._commands = self.brewer.look(snapshot(self.plan, BatchId("bench"), ticked.state))
        else:
            self._commands = ()
        return Second(state=ticked.state, inputs=inputs, events=ticked.events)

    def _inputs(self) -> Inputs:
        told = ((probe.name, self.tells(probe.name, read_c(self.world, probe))) for probe in self.plan.kettle.probes)
        return Inputs(
            now_s=self.now_s,
            at_utc_s=STARTED_UTC_S + self.now_s,
            readings=tuple(
                Reading(probe=name, value_c=value_c, age_s=READING_AGE_S)
                for name, value_c in told
                if value_c is not None
            ),
            health=self.board.health(),
            commands=(*self._commands, *self._told),
            heater_limit_fraction=1.0,
        )
