"""What the page offers fits the step in hand, and the core is of one mind with it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kettlebridge.model.command import CommandKind
from kettlebridge.model.plan import (
    AnyStep,
    AskKind,
    AskStep,
    BoilStep,
    ChillStep,
    CirculateStep,
    HeatStep,
    HopStandStep,
    RestStep,
    StepKind,
)
from kettlebridge.web.offers import IN_STEPS, further_offers
from tests.core.bench_kettle import MASH_REST, BenchKettle, plan_of
from tests.documents.builders import snapshot

STEPS: dict[StepKind, AnyStep] = {
    StepKind.HEAT: HeatStep(name="h", to_c=60.0),
    StepKind.ASK: AskStep(name="a", what=AskKind.STIR),
    StepKind.REST: RestStep(name="r", at_c=60.0, for_min=10.0),
    StepKind.BOIL: BoilStep(name="b", for_min=10.0),
    StepKind.HOP_STAND: HopStandStep(name="s", at_c=80.0, for_min=10.0),
    StepKind.CIRCULATE: CirculateStep(name="c", at_c=60.0, for_min=10.0),
    StepKind.CHILL: ChillStep(name="k", to_c=20.0, water_c=12.0),
}
GIVEN: dict[CommandKind, dict[str, float]] = {
    CommandKind.EXTEND: {"minutes": 1.0},
    CommandKind.RETARGET: {"target_c": 62.0},
    CommandKind.SKIP: {},
}
NOT_IN_THIS_STEP = {"no_timer", "no_target", "confirm_instead"}


@pytest.mark.parametrize("command", IN_STEPS)
@pytest.mark.parametrize("kind", StepKind)
def test_what_is_offered_in_a_step_is_what_the_core_knows_there(kind: StepKind, command: CommandKind) -> None:
    stage = "hands_in" if kind is StepKind.ASK else ""
    bench = BenchKettle(plan_of(STEPS[kind], MASH_REST), liquid_c=40.0, stage=stage)
    refused = bench.tell(command, **GIVEN[command]) in NOT_IN_THIS_STEP
    seen = snapshot()
    assert seen.step is not None
    shown = {one.kind for one in further_offers(replace(seen, step=replace(seen.step, kind=kind)))}
    assert (command in shown) is not refused
