"""When a family's strike water is ready, and when hands are needed for it: foretold by the service, and as it came.

A batch of two steps, the strike water and the grain. Foretold as the heater goes on by the file alone and by what three
earlier brews taught (other litres, water and room), then ten and twenty minutes into the heat-up.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, replace

from kettlebridge.core.calls import CallKind
from kettlebridge.core.forecast import forecast
from kettlebridge.core.learning import learnt_after
from kettlebridge.core.ledger import Ledger
from kettlebridge.core.state import State, initial
from kettlebridge.core.tick import tick
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import Command, CommandKind
from kettlebridge.model.ids import CommandId
from kettlebridge.model.inputs import Inputs
from kettlebridge.model.learnt import Learnt
from kettlebridge.model.plan import AskKind, AskStep, HeatStep, Plan, Profile, Water
from kettlebridge.model.reading import Reading
from kettlebridge.model.units import S_PER_MIN
from kettlebridge.simulated.family.course import BEFORE_S, LONGEST_HEAT_UP_S, PERIOD_S, filled
from kettlebridge.simulated.family.draw import LITRES_ERROR, Member
from kettlebridge.simulated.fold_board import READING_AGE_S, FoldBoard
from kettlebridge.simulated.virtual_day import STARTED_UTC_S
from kettlesim.world import Outputs, World

BREWS_BEFORE = 3
FIRST_S = 5.0
"""After the start: the first tick that heats has been."""
TOLD_AT_S = (FIRST_S, 600.0, 1200.0)
READY_UNDER_C = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatUp:
    """Seconds from the start: when all the water was there, when hands were called, and by when told what of both.

    `needed_s` None: nobody was ever called.
    """

    ready_s: float | None
    needed_s: float | None
    told: dict[float, tuple[float, float]]
    learnt: Learnt | None


class _Batch:
    """The whole tick on one heat-up."""

    def __init__(self, member: Member, learnt: Learnt | None) -> None:
        steps = (
            HeatStep(name="strike water", to_c=member.strike_c),
            AskStep(name="dough-in", what=AskKind.DOUGH_IN),
        )
        water = Water(fill_l=member.litres_believed, grain_kg=member.grain_kg)
        profile = Profile(name="strike", water=water, steps=steps)
        self.plan = Plan(kettle=member.kettle, profile=profile, learnt=learnt)
        self.board = FoldBoard(member.kettle)
        self.state: State = initial(self.plan)._replace(ledger=Ledger(volume_l=member.litres_believed))

    def tick(self, world: World) -> None:
        """One second."""
        self.board.up_ms += round(1000 * PERIOD_S)
        commands: tuple[Command, ...] = ()
        if self.state.batch is BatchState.IDLE and world.elapsed_s >= BEFORE_S:
            commands = (Command(id=CommandId("bench.1"), kind=CommandKind.START, who="bench", at_kettle=True),)
        probe = self.plan.kettle.probes[0].name
        ticked = tick(
            self.plan,
            self.state,
            Inputs(
                now_s=world.elapsed_s,
                at_utc_s=STARTED_UTC_S + world.elapsed_s,
                readings=(Reading(probe=probe, value_c=world.reading_c("control"), age_s=READING_AGE_S),),
                health=self.board.health(),
                commands=commands,
                heater_limit_fraction=1.0,
            ),
        )
        self.state = ticked.state
        self.board.obey(ticked.demands)

    def foretold(self, begun_s: float) -> tuple[float, float] | None:
        """Ready and needed, seconds from the start."""
        told = forecast(self.plan, self.state)
        if told is None or told.next_spell is None:
            return None
        return told.steps[0].ends.at_s - begun_s, told.next_spell.begins.at_s - begun_s


def heated(member: Member, learnt: Learnt | None) -> HeatUp:
    """One heat-up of `member` by the service."""
    world, batch = filled(member), _Batch(member, learnt)
    begun_s = ready_s = needed_s = None
    told: dict[float, tuple[float, float]] = {}
    while world.elapsed_s < LONGEST_HEAT_UP_S and (ready_s is None or needed_s is None):
        outputs = Outputs(batch.board.heater_permille / 1000.0, main_contactor_closed=True, pump_on=False)
        world.advance(outputs, PERIOD_S)
        batch.tick(world)
        if begun_s is None:
            begun_s = world.elapsed_s if batch.state.batch is BatchState.RUNNING else None
            continue
        gone_s = world.elapsed_s - begun_s
        if gone_s in TOLD_AT_S and ready_s is None and (seen := batch.foretold(begun_s)) is not None:
            told[gone_s] = seen
        if ready_s is None and world.truth().bulk_c >= member.strike_c - READY_UNDER_C:
            ready_s = gone_s
        if needed_s is None and any(call.kind is CallKind.ASK for call in batch.state.calls):
            needed_s = gone_s
        if batch.state.batch is BatchState.HELD:
            break
    return HeatUp(ready_s=ready_s, needed_s=needed_s, told=told, learnt=learnt_after(batch.plan, batch.state))


def other_brew(member: Member, nth: int) -> Member:
    """The same kettle on another day: litres measured anew, other water, another room."""
    rng = random.Random(f"ready/{member.seed}/{member.number}/{nth}")  # noqa: S311  # kettles, not secrets
    litres = member.litres * rng.uniform(0.8, 1.0)
    return replace(
        member,
        number=member.number + 1000 * (nth + 1),
        litres=litres,
        litres_believed=litres * rng.uniform(1.0 - LITRES_ERROR, 1.0 + LITRES_ERROR),
        water_c=rng.uniform(6.0, 22.0),
        ambient_c=rng.uniform(8.0, 28.0),
        mains_fraction=rng.uniform(0.92, 1.06),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadyColumn:
    """What was known when it was foretold; `after_s` from the start."""

    words: str
    taught: bool
    after_s: float


COLUMNS: dict[str, ReadyColumn] = {
    "nameplate": ReadyColumn(words="by the file", taught=False, after_s=FIRST_S),
    "learnt": ReadyColumn(words="after 3 brews", taught=True, after_s=FIRST_S),
    "live_10": ReadyColumn(words="by the file, 10 min in", taught=False, after_s=600.0),
    "live_20": ReadyColumn(words="by the file, 20 min in", taught=False, after_s=1200.0),
    "learnt_10": ReadyColumn(words="after 3 brews, 10 min in", taught=True, after_s=600.0),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadyMetric:
    """`of` takes when it was ready and needed, and what was told of both."""

    key: str
    words: str
    of: Callable[[float, float, tuple[float, float]], float]


READY_METRICS: tuple[ReadyMetric, ...] = (
    ReadyMetric(
        key="ready_error_min",
        words="foretold ready too early or late, min",
        of=lambda ready_s, needed_s, told: abs(told[0] - ready_s) / S_PER_MIN,
    ),
    ReadyMetric(
        key="needed_error_min",
        words="foretold needed too early or late, min",
        of=lambda ready_s, needed_s, told: abs(told[1] - needed_s) / S_PER_MIN,
    ),
)


def ready_figures(member: Member) -> dict[str, dict[str, float | None]]:
    """Of every column: metric, figure; None where it was never ready. A column it was ready before is left out."""
    learnt: Learnt | None = None
    for nth in range(BREWS_BEFORE):
        learnt = heated(other_brew(member, nth), learnt).learnt
    days = {False: heated(member, None), True: heated(member, learnt)}
    figures: dict[str, dict[str, float | None]] = {}
    for name, column in COLUMNS.items():
        day = days[column.taught]
        told = day.told.get(column.after_s)
        figures[name] = {}
        if day.ready_s is None or day.needed_s is None:
            figures[name] = {metric.key: None for metric in READY_METRICS}
        elif told is not None:
            figures[name] = {metric.key: metric.of(day.ready_s, day.needed_s, told) for metric in READY_METRICS}
    return figures
