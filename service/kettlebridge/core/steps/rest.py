"""`rest`: ramp to a temperature and hold it. Time in the band counts; it never hangs."""

from __future__ import annotations

from kettlebridge.core.calls import CallKind, Wanted
from kettlebridge.core.stage import DONE, Scene, Stage, StageState, Wish, nothing
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
BELOW = (Wanted(kind=CallKind.REST_BELOW),)


def _pump_on(scene: Scene[RestStep]) -> bool:
    after_min = scene.step.pump_after_min
    return scene.plan.kettle.has_pump and after_min is not None and scene.step_age_s >= after_min * 60.0


def _waits_for_pump(scene: Scene[RestStep]) -> bool:
    """A bed that is to be recirculated later is not heated before: the heater would see only the zone under it."""
    return mashing(scene) and scene.plan.kettle.has_pump and scene.step.pump_after_min is not None


def _settles(scene: Scene[RestStep]) -> bool:
    return _waits_for_pump(scene) and not _pump_on(scene)


def _need_not_settle(scene: Scene[RestStep]) -> bool:
    return not _settles(scene)


def _wish(scene: Scene[RestStep]) -> Wish:
    pump_on = _pump_on(scene)
    gently = mashing(scene) and not pump_on
    return Wish(
        target_c=target_c(scene),
        pump_on=pump_on,
        ceiling_fraction=NO_PUMP_CEILING_FRACTION if gently else 1.0,
    )


def _below_too_long(scene: Scene[RestStep]) -> bool:
    since_s = scene.stage.below_since_s
    return since_s is not None and scene.now_s - since_s >= BELOW_ASK_S


def _ramp_too_long(scene: Scene[RestStep]) -> bool:
    return scene.age_s > 2.0 * (scene.stage.expected_s or 0.0) + BELOW_ASK_S


def _ramp_asks(scene: Scene[RestStep]) -> tuple[Wanted, ...]:
    return BELOW if _ramp_too_long(scene) else ()


def _hold_asks(scene: Scene[RestStep]) -> tuple[Wanted, ...]:
    return BELOW if _below_too_long(scene) else ()


def counts_anyway(scene: Scene[RestStep]) -> bool:
    """Whether the brewer said to count the time below the band too."""
    return scene.answered(CallKind.REST_BELOW)


def _hold(scene: Scene[RestStep]) -> StageState:
    stage = scene.stage
    if in_band(scene):
        if stage.below_since_s is not None:
            stage = stage._replace(below_since_s=None)
        return stage._replace(timer_s=stage.timer_s + scene.dt_s)
    if stage.below_since_s is None:
        stage = stage._replace(below_since_s=scene.now_s)
    return counted(scene) if counts_anyway(scene) else stage


STAGES = (
    Stage(
        name="settle",
        wish=nothing,
        counts=_hold,
        moves=((timer_done, DONE), (_need_not_settle, "ramp")),
    ),
    Stage(
        name="ramp",
        wish=_wish,
        asks=_ramp_asks,
        expects_c=target_c,
        moves=((in_band, "hold"), (counts_anyway, "hold")),
        heats_with_pump=True,
    ),
    Stage(
        name="hold",
        wish=_wish,
        asks=_hold_asks,
        counts=_hold,
        moves=((timer_done, DONE),),
        heats_with_pump=True,
        timed=True,
    ),
)
