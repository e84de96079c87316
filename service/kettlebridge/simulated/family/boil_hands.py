"""Three ways to bring a kettle to the boil: nothing done, cut once it boils, and the service with its taper."""

from __future__ import annotations

from dataclasses import replace

from kettlebridge.brewing.timetable import STAND_BY_UNDER_C
from kettlebridge.core.calls import CallKind
from kettlebridge.core.ledger import Grain, Ledger
from kettlebridge.core.state import initial
from kettlebridge.core.tick import tick
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import Command, CommandKind
from kettlebridge.model.ids import CommandId
from kettlebridge.model.inputs import Inputs
from kettlebridge.model.plan import BoilStep, Plan, Profile, Water
from kettlebridge.model.reading import Reading
from kettlebridge.simulated.family.boil_course import Wort
from kettlebridge.simulated.fold_board import READING_AGE_S, FoldBoard
from kettlebridge.simulated.virtual_day import PERIOD_S, STARTED_UTC_S
from kettlesim.world import World

FULL = 1000
BEGUN_S = 60.0
"""So long the wort stands before it is heated."""
BOIL_MIN = 60.0
BOIL_OFF_FRACTION = 0.1
"""Of the wort in an hour: usual for small kettles (8-15 %, common practice, no source)."""


class FullPower:
    """Full power, and nobody looks."""

    def __init__(self, wort: Wort) -> None:
        self.called = False
        self.present = False
        self.boiled_s = 0.0
        self._present_c = wort.kettle.boil_c - STAND_BY_UNDER_C

    def permille(self, world: World) -> int:
        """Always everything."""
        self.present = self.present or world.reading_c("control") >= self._present_c
        return FULL if world.elapsed_s >= BEGUN_S else 0


class Service:
    """The whole tick on a plan of one boil; somebody answers "at the kettle, lid off" after a while."""

    def __init__(self, wort: Wort) -> None:
        step = BoilStep(name="boil", for_min=BOIL_MIN, boil_off_l_per_h=BOIL_OFF_FRACTION * wort.litres_believed)
        profile = Profile(
            name="boil", water=Water(fill_l=wort.litres_believed, sparge_l=0.0, grain_kg=0.0), steps=(step,)
        )
        self.called = False
        self.present = False
        self._wort = wort
        self._plan = Plan(kettle=wort.kettle, profile=profile)
        self._board = FoldBoard(wort.kettle)
        self._commands = 0
        begun = initial(self._plan)
        ledger = Ledger(volume_l=wort.litres_believed, grain=Grain.AWAY)
        self.state = begun._replace(ledger=ledger)

    @property
    def boiled_s(self) -> float:
        """What the service counts of the boil's time."""
        return self.state.stage.timer_s

    def permille(self, world: World) -> int:
        """What the tick demands."""
        self._board.up_ms += round(1000 * PERIOD_S)
        commands = self._said(world)
        probe = self._plan.kettle.probes[0].name
        inputs = Inputs(
            now_s=world.elapsed_s,
            at_utc_s=STARTED_UTC_S + world.elapsed_s,
            readings=(Reading(probe=probe, value_c=world.reading_c("control"), age_s=READING_AGE_S),),
            health=self._board.health(),
            commands=commands,
            heater_limit_fraction=1.0,
        )
        ticked = tick(self._plan, self.state, inputs)
        self.state = ticked.state
        self._board.obey(ticked.demands)
        self.called = self.called or self.state.stage.name == "boil"
        return self._board.heater_permille

    def _said(self, world: World) -> tuple[Command, ...]:
        if self.state.batch is BatchState.IDLE and world.elapsed_s >= BEGUN_S:
            return (self._command(CommandKind.START, None),)
        for call in self.state.calls:
            if call.kind is CallKind.STAND_BY and world.elapsed_s - call.raised_s >= self._wort.stand_by_s:
                self.present = True
                return (self._command(CommandKind.CONFIRM, call.id),)
        return ()

    def _command(self, kind: CommandKind, call: str | None) -> Command:
        self._commands += 1
        id_ = CommandId(f"bench.{self._commands}")
        return Command(id=id_, kind=kind, who="bench", at_kettle=True, call=call, seen_n=self.state.n)


class CutAtTheBoil(Service):
    """Full power without a pause until the service's own detector sees the boil, then what the service gives it."""

    def __init__(self, wort: Wort) -> None:
        super().__init__(replace(wort, stand_by_s=0.0))

    def permille(self, world: World) -> int:
        """Everything, and what a hot break is given from the boil on."""
        given = super().permille(world)
        if self.called or self.state.batch is not BatchState.RUNNING:
            return given
        return FULL
