"""A brew day as a plain fold in virtual time: simulated kettle, tick, simulated brewer; no wire, no clock, no I/O."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from kettlebridge.cli.simulated_brewer import SimulatedBrewer
from kettlebridge.cli.simulated_kettle import body_of, read_c
from kettlebridge.core.snapshot import snapshot
from kettlebridge.core.state import State, initial
from kettlebridge.core.tick import tick
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import Command, CommandKind
from kettlebridge.model.demand import Demand, Output
from kettlebridge.model.event import Event
from kettlebridge.model.ids import BatchId, CommandId
from kettlebridge.model.inputs import Inputs
from kettlebridge.model.plan import Plan
from kettlebridge.model.reading import BoardHealth, BoardInput, BoardState, Reading
from kettlesim.world import Outputs, World

PERIOD_S = 1.0
READING_AGE_S = 0.4
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


class FoldBoard:
    """The least that a board is: outputs follow demands, and read back one tick later."""

    def __init__(self) -> None:
        self.heater_permille = 0
        self.pump_on = False
        self.main_contactor_closed = False
        self.up_ms = 0

    def obey(self, demands: tuple[Demand, ...]) -> None:
        """Takes what a tick demanded."""
        wanted = {demand.output: demand.permille for demand in demands}
        self.heater_permille = wanted.get(Output.HEATER, 0)
        self.pump_on = wanted.get(Output.PUMP, 0) > 0
        self.main_contactor_closed = wanted.get(Output.MAIN_CONTACTOR, 0) > 0

    def health(self) -> BoardHealth:
        """What it says of itself."""
        board = BoardState(
            acted_on=self.up_ms,
            heater_permille=self.heater_permille,
            heater_on_ms=0,
            pump_on=self.pump_on,
            main_contactor_closed=self.main_contactor_closed,
            lease_left_s=PERIOD_S,
            inputs=BoardInput.NONE,
        )
        return BoardHealth(linked=True, age_s=READING_AGE_S, board=board)

    def outputs(self, has_main_contactor: bool) -> Outputs:
        """What they do to the kettle."""
        return Outputs(
            heater_fraction=self.heater_permille / 1000.0,
            main_contactor_closed=self.main_contactor_closed or not has_main_contactor,
            pump_on=self.pump_on,
        )


class VirtualDay:
    """`plan` on a simulated kettle with a simulated brewer. The same seed gives the same day."""

    def __init__(self, plan: Plan, *, seed: int, world: World | None = None) -> None:
        self.plan = plan
        self.world = World(body_of(plan.kettle), seed=seed, probe_offset_c=0.0) if world is None else world
        self.brewer = SimulatedBrewer(plan, self.world, seed=seed)
        self.board = FoldBoard()
        self.state = initial(plan)
        self._told: list[Command] = []

    def tell(self, *commands: Command) -> None:
        """Gives the next tick what somebody says besides the simulated brewer."""
        self._told.extend(commands)

    def seconds(self) -> Iterator[Second]:
        """The day, tick by tick, until it is over or has lasted 24 h."""
        now_s = 0.0
        commands: tuple[Command, ...] = ()
        while now_s < LONGEST_DAY_S:
            now_s += PERIOD_S
            self.world.advance(self.board.outputs(self.plan.kettle.has_main_contactor), PERIOD_S)
            self.board.up_ms += round(1000 * PERIOD_S)
            if self.state.n == SETTLED_TICKS:
                commands = (Command(id=CommandId("bench.start"), kind=CommandKind.START, who="bench", at_kettle=True),)
            inputs = self._inputs(now_s, (*commands, *self._told))
            self._told.clear()
            ticked = tick(self.plan, self.state, inputs)
            self.state = ticked.state
            self.board.obey(ticked.demands)
            yield Second(state=ticked.state, inputs=inputs, events=ticked.events)
            if ticked.state.batch in OVER:
                return
            looks = ticked.events or (ticked.state.calls and ticked.state.n % LOOK_EVERY_TICKS == 0)
            commands = self.brewer.look(snapshot(self.plan, BatchId("bench"), ticked.state)) if looks else ()

    def _inputs(self, now_s: float, commands: tuple[Command, ...]) -> Inputs:
        return Inputs(
            now_s=now_s,
            at_utc_s=STARTED_UTC_S + now_s,
            readings=tuple(
                Reading(probe=probe.name, value_c=read_c(self.world, probe), age_s=READING_AGE_S)
                for probe in self.plan.kettle.probes
            ),
            health=self.board.health(),
            commands=commands,
            heater_limit_fraction=1.0,
        )
