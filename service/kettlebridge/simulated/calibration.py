"""A calibration on the simulator, as fast as it goes: somebody with a jug of ice, patience and a scale."""

from __future__ import annotations

from dataclasses import dataclass

from kettlebridge.brewing.calibration_day import COOLING_TEXT, EMPTY, ICE, ICE_TEXT, LITRES
from kettlebridge.core.snapshot import snapshot
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.ids import BatchId, ProbeName
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.plan import Plan, Profile
from kettlebridge.model.snapshot import CallView
from kettlebridge.model.trace import Trace
from kettlebridge.runtime.traces import Course
from kettlebridge.simulated.brewer import SimulatedBrewer, UsualWays
from kettlebridge.simulated.kettle import body_of
from kettlebridge.simulated.virtual_day import VirtualDay
from kettlesim.world import World

BATCH = BatchId("simulated")
STIRRED_S, COOLED_S = 240.0, 2700.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """Litres at 20 °C as they were measured; None for a step that was left out."""

    trace: Trace
    state: BatchState
    cause: str | None
    after_boil_l: float | None
    left_l: float | None


class _Patient(UsualWays):
    """Waits as long as the texts say."""

    def late_s(self, call: CallView, now_s: float) -> float:
        return {ICE_TEXT: STIRRED_S, COOLING_TEXT: COOLED_S}.get(call.text, 0.0)


def patient_day(plan: Plan, world: World, *, probes_off_c: float, seed: int) -> VirtualDay:
    """A day in `world`, whose probes read `probes_off_c` too much, in ice too, with somebody who has the time."""
    day = VirtualDay(plan, seed=seed, world=world)
    day.brewer = SimulatedBrewer(plan, world, seed=seed, ways=_Patient())
    roles = {probe.name: probe for probe in plan.kettle.probes}

    def tells(name: ProbeName, read_c: float) -> float:
        return (probes_off_c - roles[name].offset_c) / roles[name].gain if step_of(day) == ICE else read_c

    day.tells = tells
    return day


def step_of(day: VirtualDay) -> str:
    """Name of the step in hand; empty before and after the day."""
    steps, state = day.plan.profile.steps, day.state
    under_way = state.batch is not BatchState.IDLE and state.stage.step_index < len(steps)
    return steps[state.stage.step_index].name if under_way else ""


def usual(kettle: Kettle, profile: Profile, *, room_c: float, seed: int) -> Run:
    """The whole day with the kettle as its file has it, whose probes need no more than their calibration."""
    world = World(body_of(kettle), seed=seed, ambient_c=room_c, probe_offset_c=0.0)
    return simulated(kettle, profile, world, probes_off_c=0.0, seed=seed)


def simulated(kettle: Kettle, profile: Profile, world: World, *, probes_off_c: float, seed: int) -> Run:
    """The whole day, and what its hands measured."""
    plan = Plan(kettle=kettle, profile=profile)
    day = patient_day(plan, world, probes_off_c=probes_off_c, seed=seed)
    course, litres = Course(BATCH), dict[str, float]()
    for second in day.seconds():
        course.add(snapshot(plan, BATCH, second.state), second.events)
        litres.setdefault(step_of(day), world.truth().volume_l)
    left_l = kettle.dead_space_l if EMPTY in litres else None
    return Run(
        trace=course.trace(),
        state=day.state.batch,
        cause=day.state.hold_cause,
        after_boil_l=litres.get(LITRES),
        left_l=left_l,
    )
