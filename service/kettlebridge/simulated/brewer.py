"""Hands for a day on the simulator: does what the open calls ask, after a human while, and confirms it."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from kettlebridge.core.calls import CallKind
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import Command, CommandKind
from kettlebridge.model.ids import CommandId
from kettlebridge.model.plan import AdditionKind, AskKind, AskStep, BoilStep, ChillStep, HopStandStep, Plan, StepKind
from kettlebridge.model.snapshot import CallView, Snapshot
from kettlesim.acts import (
    Act,
    AddHops,
    AddSugar,
    AddWater,
    BasketAway,
    Drain,
    GrainIn,
    LiftBasket,
    SetLid,
    Sparge,
    StartChiller,
    StartTransfer,
    Stir,
    StopChiller,
    StopTransfer,
)
from kettlesim.world import World

TAP_C = 14.0
GRAIN_C = 18.0
SPARGE_C = 75.0
INFUSION_C = 95.0
HOSE_L_PER_MIN = 6.0
QUICK_S = (15.0, 60.0)
DRAINED_ABOVE_L = 0.2

DELAYS_S: dict[str, tuple[float, float]] = {
    AskKind.FILL.value: (240.0, 420.0),
    AskKind.DOUGH_IN.value: (240.0, 480.0),
    AskKind.INFUSE.value: (60.0, 150.0),
    AskKind.LIFT.value: (60.0, 180.0),
    AskKind.SPARGE.value: (300.0, 600.0),
    AskKind.DRAIN.value: (600.0, 720.0),
    AskKind.PITCH.value: (600.0, 900.0),
    AskKind.EMPTY.value: (300.0, 600.0),
    CallKind.ADDITION.value: (5.0, 40.0),
    CallKind.DISSOLVED.value: (60.0, 120.0),
}
"""How long a brewer takes, by an ask's kind or else a call's; anything else is quick (an invented person's habits)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """What an act may depend on."""

    plan: Plan
    snapshot: Snapshot
    call: CallView


def _fill(m: Moment) -> tuple[Act, ...]:
    return (AddWater(litres=m.call.litres or 0.0, temp_c=TAP_C), SetLid(on=True))


def _dough_in(m: Moment) -> tuple[Act, ...]:
    return (SetLid(on=False), GrainIn(kg=m.call.kg or 0.0, temp_c=GRAIN_C), Stir(), SetLid(on=True))


def _infuse(m: Moment) -> tuple[Act, ...]:
    step = None if m.snapshot.step is None else m.plan.profile.steps[m.snapshot.step.index]
    water_c = step.water_c if isinstance(step, AskStep) else None
    return (
        SetLid(on=False),
        AddWater(litres=m.call.litres or 0.0, temp_c=water_c or INFUSION_C),
        Stir(),
        SetLid(on=True),
    )


def _sparge(m: Moment) -> tuple[Act, ...]:
    return (Sparge(litres=m.call.litres or 0.0, temp_c=SPARGE_C),)


def _addition(m: Moment) -> tuple[Act, ...]:
    step = None if m.snapshot.step is None else m.plan.profile.steps[m.snapshot.step.index]
    if not isinstance(step, BoilStep | HopStandStep):
        return ()
    addition = step.additions[int(m.call.id.rsplit(".", 1)[1])]
    if addition.kind is AdditionKind.SUGAR:
        return (AddSugar(kg=addition.grams / 1000.0),)
    return (AddHops(grams=addition.grams),) if addition.kind is AdditionKind.HOPS else ()


def _cooling_water_c(m: Moment) -> float:
    waters_c = [step.water_c for step in m.plan.profile.steps if isinstance(step, ChillStep)]
    return waters_c[0] if waters_c else TAP_C


def _chiller(m: Moment) -> tuple[Act, ...]:
    return (StartChiller(water_c=_cooling_water_c(m), flow_l_per_min=HOSE_L_PER_MIN),)


def _transfer(m: Moment) -> tuple[Act, ...]:
    return (*_chiller(m), StartTransfer())


ASKED: dict[str, Callable[[Moment], tuple[Act, ...]]] = {
    AskKind.FILL.value: _fill,
    AskKind.DOUGH_IN.value: _dough_in,
    AskKind.STIR.value: lambda m: (Stir(),),
    AskKind.INFUSE.value: _infuse,
    AskKind.LIFT.value: lambda m: (SetLid(on=False), LiftBasket()),
    AskKind.SPARGE.value: _sparge,
    AskKind.BASKET_AWAY.value: lambda m: (BasketAway(), SetLid(on=True)),
    AskKind.EMPTY.value: lambda m: (SetLid(on=False), Drain()),
}
CALLED: dict[str, Callable[[Moment], tuple[Act, ...]]] = {
    CallKind.STAND_BY.value: lambda m: (SetLid(on=False),),
    CallKind.ADDITION.value: _addition,
    CallKind.DISSOLVED.value: lambda m: (Stir(),),
    CallKind.COOL.value: _chiller,
    CallKind.CHILLER_ON.value: _chiller,
    CallKind.CHILLED.value: lambda m: (StopChiller(),),
    CallKind.TRANSFERRED.value: _transfer,
}
"""What hands do for a call; one that is in neither table is only confirmed."""

LASTS = frozenset({CallKind.COOL.value, CallKind.TRANSFERRED.value})
"""Calls whose act takes its time: begun at once, and over when the kettle says so."""


def usual_acts(moment: Moment) -> tuple[Act, ...]:
    """What hands do for a call when all goes well."""
    call = moment.call
    acts = ASKED.get(call.subject) if call.kind == CallKind.ASK.value else CALLED.get(call.kind)
    return () if acts is None else acts(moment)


class Ways(Protocol):
    """How hands go about a day."""

    def late_s(self, call: CallView, now_s: float) -> float:
        """For how much longer than usual nobody comes to a call that was just raised."""

    def acts(self, moment: Moment) -> tuple[Act, ...]:
        """What hands do."""


class UsualWays:
    """All goes well."""

    def late_s(self, call: CallView, now_s: float) -> float:
        """They come as they do."""
        return 0.0

    def acts(self, moment: Moment) -> tuple[Act, ...]:
        """What they always do."""
        return usual_acts(moment)


USUAL_WAYS = UsualWays()


class SimulatedBrewer:
    """One brewer at one simulated kettle; `look` once for each snapshot."""

    def __init__(self, plan: Plan, world: World, *, seed: int, ways: Ways = USUAL_WAYS) -> None:
        self._ways = ways
        self._plan = plan
        self._world = world
        self._rng = random.Random(f"brewer/{seed}")  # noqa: S311  # habits, not secrets
        self._due_s: dict[str, float] = {}
        self._acted: set[str] = set()
        self._chilling = self._armed = False
        self._count = 0

    def look(self, snapshot: Snapshot) -> tuple[Command, ...]:
        """Acts on what is due, and gives the confirmations that follow."""
        self._stop_chiller_at_stand(snapshot)
        commands: list[Command] = self._arm(snapshot)
        for call in snapshot.calls:
            key = call.id
            if key not in self._due_s:
                self._due_s[key] = snapshot.now_s + self._delay_s(call) + self._ways.late_s(call, snapshot.now_s)
            if snapshot.now_s < self._due_s[key]:
                continue
            if key not in self._acted:
                self._act(Moment(plan=self._plan, snapshot=snapshot, call=call))
                self._acted.add(key)
            if call.kind not in LASTS or self._over(call):
                commands.append(self._confirm(call, snapshot))
                self._due_s[key] = snapshot.now_s + QUICK_S[1]
        return tuple(commands)

    def _arm(self, snapshot: Snapshot) -> list[Command]:
        """Arms what is to heat with nobody there, once; a kettle that cannot be armed is come to when it calls."""
        waits = snapshot.arming is not None and snapshot.arming.phase == "not_armed"
        if not waits or self._armed or snapshot.state is not BatchState.RUNNING:
            return []
        self._armed = True
        return [self._say(CommandKind.ARM, snapshot, None)]

    def _delay_s(self, call: CallView) -> float:
        if call.kind in LASTS:
            return 0.0
        low_s, high_s = DELAYS_S.get(call.subject, DELAYS_S.get(call.kind, QUICK_S))
        return self._rng.uniform(low_s, high_s)

    def _act(self, moment: Moment) -> None:
        for act in self._ways.acts(moment):
            self._world.act(act)
            self._chilling = isinstance(act, StartChiller) or (self._chilling and not isinstance(act, StopChiller))

    def _over(self, call: CallView) -> bool:
        """A transfer is over when only the dead space is left; cooling ends by itself."""
        if call.kind != CallKind.TRANSFERRED.value:
            return False
        if self._world.truth().volume_l > self._plan.kettle.dead_space_l + DRAINED_ABOVE_L:
            return False
        self._world.act(StopTransfer())
        self._world.act(StopChiller())
        self._chilling = False
        return True

    def _stop_chiller_at_stand(self, snapshot: Snapshot) -> None:
        step = snapshot.step
        if self._chilling and step is not None and step.kind is StepKind.HOP_STAND and step.stage != "cool":
            self._world.act(StopChiller())
            self._chilling = False

    def _confirm(self, call: CallView, snapshot: Snapshot) -> Command:
        return self._say(CommandKind.CONFIRM, snapshot, call.id)

    def _say(self, kind: CommandKind, snapshot: Snapshot, call: str | None) -> Command:
        self._count += 1
        return Command(
            id=CommandId(f"brewer.{self._count}"),
            kind=kind,
            who="simulated brewer",
            at_kettle=True,
            seen_n=snapshot.n,
            call=call,
        )
