"""`circulate`: hot cleaning or rinsing liquid goes round through the hoses."""

from __future__ import annotations

from kettlebridge.core.calls import CallKind
from kettlebridge.core.stage import DONE, NOTHING, Scene, Stage, Wish, answered, asks
from kettlebridge.core.steps.heating import counted, in_band, target_c, timer_done
from kettlebridge.model.plan import CirculateStep


def _round(scene: Scene[CirculateStep]) -> Wish:
    return Wish(target_c=target_c(scene), pump_on=scene.plan.kettle.has_pump)


STAGES = (
    Stage(
        name="hoses",
        wish=lambda scene: NOTHING,
        asks=asks(CallKind.HOSES),
        moves=((answered(CallKind.HOSES), "ramp"),),
    ),
    Stage(
        name="ramp",
        wish=_round,
        expects_c=target_c,
        moves=((in_band, "circulate"),),
        hot_pump=True,
        heats_with_pump=True,
    ),
    Stage(
        name="circulate",
        wish=_round,
        counts=counted,
        moves=((timer_done, DONE),),
        hot_pump=True,
        heats_with_pump=True,
        timed=True,
    ),
)
