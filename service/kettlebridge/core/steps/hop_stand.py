"""`hop_stand`: below the boil, with the pump as asked."""

from __future__ import annotations

from kettlebridge.core.additions import any_open
from kettlebridge.core.calls import CallKind, Wanted
from kettlebridge.core.stage import DONE, NOTHING, Scene, Stage, Wish
from kettlebridge.core.steps.heating import BAND_C, counted, target_c, timer_done
from kettlebridge.model.plan import HopStandStep

HOSES, COOL = (Wanted(kind=CallKind.HOSES),), Wanted(kind=CallKind.COOL)


def _pump_on(scene: Scene[HopStandStep]) -> bool:
    return scene.step.pump and scene.plan.kettle.has_pump and scene.answered(CallKind.HOSES)


def _asks_hoses(scene: Scene[HopStandStep]) -> tuple[Wanted, ...]:
    return HOSES if scene.step.pump and scene.plan.kettle.has_pump else ()


def _cool_asks(scene: Scene[HopStandStep]) -> tuple[Wanted, ...]:
    return (*_asks_hoses(scene), COOL)


def _cool(scene: Scene[HopStandStep]) -> Wish:
    return Wish(pump_on=True) if _pump_on(scene) else NOTHING


def _cooled(scene: Scene[HopStandStep]) -> bool:
    return scene.control_c is not None and scene.control_c <= target_c(scene) + BAND_C


def _stand(scene: Scene[HopStandStep]) -> Wish:
    return Wish(target_c=target_c(scene), pump_on=_pump_on(scene))


def _all_in_hand(scene: Scene[HopStandStep]) -> bool:
    return not any_open(scene.schedule)


STAGES = (
    Stage(name="cool", wish=_cool, asks=_cool_asks, moves=((_cooled, "stand"),), hot_pump=True, readies=True),
    Stage(
        name="stand",
        wish=_stand,
        asks=_asks_hoses,
        counts=counted,
        moves=((timer_done, "wrap"),),
        readies=True,
        adds=True,
        timed=True,
        hot_pump=True,
        heats_with_pump=True,
    ),
    Stage(name="wrap", wish=lambda scene: NOTHING, moves=((_all_in_hand, DONE),)),
)
