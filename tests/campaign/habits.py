"""A fault-free day of an imprecise brewer: mains, litres, lids, sparge water, cold top-ups, lowered targets."""

from __future__ import annotations

import random
from dataclasses import dataclass, replace

from kettlebridge.core.sequencer import current_step
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import Command, CommandKind
from kettlebridge.model.event import EventCode
from kettlebridge.model.ids import CommandId
from kettlebridge.model.plan import RestStep
from kettlebridge.simulated.virtual_day import VirtualDay
from kettlesim.acts import Act, AddWater, SetLid, Sparge
from kettlesim.world import World
from tests.campaign.kettles import Subject, seeded

MAINS = (0.9, 1.1)
LITRES = (0.85, 1.15)
SPARGE_C = (60.0, 80.0)
TOP_UP_SHARE = 0.03
TOP_UP_C = 12.0
LOWERED_C = 3.0
ROOM_C = (8.0, 30.0)
TOO_LONG = "twice_the_plan"


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """How a fault-free day ended, and the rules that tripped in it."""

    subject: str
    seed: int
    ended: str
    trips: tuple[str, ...]
    hours: float


class HabitWorld(World):
    """A kettle whose brewer pours by eye and may forget the lid."""

    def __init__(self, subject: Subject, seed: int, chance: random.Random) -> None:
        super().__init__(
            subject.body,
            seed=seed,
            ambient_c=chance.uniform(*ROOM_C),
            mains_fraction=chance.uniform(*MAINS) ** 2,
            probe_offset_c=0.0,
        )
        self._litres_share = chance.uniform(*LITRES)
        self._sparge_c = chance.uniform(*SPARGE_C)
        self._forgets_lid = chance.random() < 0.4

    def act(self, act: Act) -> None:
        """What the brewer is asked for, as this one does it; never more than the kettle holds."""
        if isinstance(act, AddWater):
            room_l = 0.97 * self.body.capacity_l - self.truth().volume_l
            act = replace(act, litres=max(min(act.litres * self._litres_share, room_l), 0.1))
        elif isinstance(act, Sparge):
            act = replace(act, temp_c=self._sparge_c)
        elif isinstance(act, SetLid) and act.on and self._forgets_lid:
            return
        super().act(act)

    def put_lid_half_on(self) -> None:
        """What a brewer does whose kettle does not come to the boil."""
        if self.truth().basket != "lifted":
            super().act(SetLid(on=True))


def lived(subject: Subject, seed: int) -> Outcome:
    """One such day."""
    chance = seeded(subject, seed)
    world = HabitWorld(subject, seed, chance)
    day = VirtualDay(subject.plan, seed=seed, world=world)
    tops_up_s = chance.uniform(300.0, 1200.0) if chance.random() < 0.5 else None
    announces = chance.random() < 0.7
    lowers_s = chance.uniform(200.0, 900.0) if chance.random() < 0.3 else None
    trips: list[str] = []
    while not day.over:
        events = day.second().events
        trips.extend(str(event.get("rule")) for event in events if event.code is EventCode.TRIP)
        if any(event.get("alarm") == TOO_LONG for event in events):
            world.put_lid_half_on()
        stage, step = day.state.stage, current_step(day.plan, day.state.stage)
        if day.state.batch is not BatchState.RUNNING or not isinstance(step, RestStep) or stage.name != "hold":
            continue
        age_s = day.now_s - stage.begun_s
        if tops_up_s is not None and age_s >= tops_up_s:
            tops_up_s = None
            litres = TOP_UP_SHARE * (day.state.ledger.volume_l or 0.0)
            world.act(AddWater(litres=litres, temp_c=TOP_UP_C))
            if announces:
                day.tell(_said(CommandKind.ADDING_WATER, litres=litres))
        if lowers_s is not None and age_s >= lowers_s:
            lowers_s = None
            day.tell(_said(CommandKind.RETARGET, target_c=step.at_c - LOWERED_C))
    return Outcome(
        subject=subject.name,
        seed=seed,
        ended=day.state.batch.value,
        trips=tuple(trips),
        hours=day.now_s / 3600.0,
    )


def _said(kind: CommandKind, *, litres: float | None = None, target_c: float | None = None) -> Command:
    return Command(
        id=CommandId(f"habit.{kind.value}"), kind=kind, who="brewer", at_kettle=True, litres=litres, target_c=target_c
    )
