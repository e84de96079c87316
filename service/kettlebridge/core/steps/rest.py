"""`rest`: ramp to a temperature and hold it. Time in the band counts; it never hangs."""

from __future__ import annotations

from dataclasses import replace

from kettlebridge.core.calls import CallKind, Wanted
from kettlebridge.core.stage import DONE, NOTHING, Scene, Stage, StageState, Wish
from kettlebridge.core.steps.heating import (
    NO_PUMP_CEILING_FRACTION,
    counted,
    in_band,
    mashing,
    target_c,
    timer_done,
)
from kettlebridge.model.plan import RestStep

BELOW_ASK_S = 600.0


def _pump_on(scene: Scene[RestStep]) -> bool:
    after_min = scene.step.pump_after_min
    return scene.plan.kettle.has_pump and after_min is not None and scene.step_age_s >= after_min * 60.0


def _wish(scene: Scene[RestStep]) -> Wish:
    pump_on = _pump_on(scene)
    if not mashing(scene) or pump_on:
        return Wish(target_c=target_c(scene), pump_on=pump_on)
    if scene.plan.kettle.has_pump and scene.step.pump_after_min is not None:
        return NOTHING
    return Wish(target_c=target_c(scene), ceiling_fraction=NO_PUMP_CEILING_FRACTION)


def _below_too_long(scene: Scene[RestStep]) -> bool:
    since_s = scene.stage.below_since_s
    return since_s is not None and scene.now_s - since_s >= BELOW_ASK_S


def _ramp_too_long(scene: Scene[RestStep]) -> bool:
    return scene.stage.expected_s is not None and scene.age_s > 2.0 * scene.stage.expected_s + BELOW_ASK_S


def _ramp_asks(scene: Scene[RestStep]) -> tuple[Wanted, ...]:
    return (Wanted(kind=CallKind.REST_BELOW),) if _ramp_too_long(scene) else ()


def _hold_asks(scene: Scene[RestStep]) -> tuple[Wanted, ...]:
    return (Wanted(kind=CallKind.REST_BELOW),) if _below_too_long(scene) else ()


def counts_anyway(scene: Scene[RestStep]) -> bool:
    """Whether the brewer said to count the time below the band too."""
    return scene.answered(CallKind.REST_BELOW)


def _hold(scene: Scene[RestStep]) -> StageState:
    stage = scene.stage
    if in_band(scene):
        if stage.below_since_s is not None:
            stage = replace(stage, below_since_s=None)
        return replace(stage, timer_s=stage.timer_s + scene.dt_s)
    if stage.below_since_s is None:
        stage = replace(stage, below_since_s=scene.now_s)
    return counted(scene) if counts_anyway(scene) else stage


STAGES = (
    Stage(
        name="ramp",
        wish=_wish,
        asks=_ramp_asks,
        expects_c=target_c,
        moves=((in_band, "hold"), (counts_anyway, "hold")),
        heats_with_pump=True,
    ),
    Stage(name="hold", wish=_wish, asks=_hold_asks, counts=_hold, moves=((timer_done, DONE),), heats_with_pump=True),
)
