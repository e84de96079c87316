"""What the steps that go to a temperature and stay there have in common."""

from __future__ import annotations

from kettlebridge.core.ledger import GRAIN_IN
from kettlebridge.core.stage import Scene, StageState, remaining_s
from kettlebridge.model.plan import AnyStep, CirculateStep, HeatStep, HopStandStep, RestStep

TOLERANCE_C = 0.3
OVER_C = 0.8
"""A probe in the warm layer over a working element reads so much above the mean that is held (on the simulator)."""
SETTLED_S = 30.0
BAND_C = 0.5
NO_PUMP_CEILING_FRACTION = 0.5
"""A mash without recirculation is heated gently: only the zone under the basket sees the element."""

TimedStep = RestStep | HopStandStep | CirculateStep


def target_c(scene: Scene[HeatStep | TimedStep]) -> float:
    """The step's temperature, or what the brewer changed it to."""
    if scene.stage.target_c is not None:
        return scene.stage.target_c
    step = scene.step
    return step.to_c if isinstance(step, HeatStep) else step.at_c


def near(scene: Scene[HeatStep | TimedStep]) -> StageState:
    """Keeps since when the probe has been within tolerance of the target."""
    stage = scene.stage
    close = scene.control_c is not None and -TOLERANCE_C <= scene.control_c - target_c(scene) <= OVER_C
    if close == (stage.near_since_s is not None):
        return stage
    return stage._replace(near_since_s=scene.now_s if close else None)


def settled(scene: Scene[AnyStep]) -> bool:
    """Whether it has been near for long enough to be there."""
    since_s = scene.stage.near_since_s
    return since_s is not None and scene.now_s - since_s >= SETTLED_S


def in_band(scene: Scene[HeatStep | TimedStep]) -> bool:
    """At the target or not more than the band below it: the grain bed, where that is controlled, or the probe."""
    reached_c = scene.control_c if scene.bed_c is None else scene.bed_c
    return reached_c is not None and reached_c >= target_c(scene) - BAND_C


def timer_done(scene: Scene[AnyStep]) -> bool:
    """Whether the step's time has been counted."""
    left_s = remaining_s(scene.step, scene.stage)
    return left_s is not None and left_s <= 0.0


def counted(scene: Scene[AnyStep]) -> StageState:
    """The stage with this tick's time counted."""
    return scene.stage._replace(timer_s=scene.stage.timer_s + scene.dt_s)


def mashing(scene: Scene[AnyStep]) -> bool:
    """Whether the basket with the grain hangs in the liquid."""
    return scene.ledger.grain is GRAIN_IN
