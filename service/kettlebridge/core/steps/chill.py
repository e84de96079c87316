"""`chill`: heater locked out; a coil in the kettle, or through a chiller into the fermenter."""

from __future__ import annotations

from kettlebridge.brewing.chilling import reachable_c
from kettlebridge.core.calls import CallKind
from kettlebridge.core.stage import DONE, NOTHING, Scene, Stage, Wish, always, answered, asks, nothing
from kettlebridge.model.kettle import ChillWay
from kettlebridge.model.plan import ChillStep

NEAR_C = 0.3


def way(scene: Scene[ChillStep]) -> ChillWay:
    """The step's way of chilling, or the kettle's own."""
    return scene.step.way or scene.plan.kettle.chill


def _in_line(scene: Scene[ChillStep]) -> bool:
    return way(scene) is ChillWay.IN_LINE


def _fallen(scene: Scene[ChillStep]) -> bool:
    return scene.control_c is not None and scene.control_c <= reachable_c(scene.step.to_c, scene.step.water_c) + NEAR_C


def _transfer(scene: Scene[ChillStep]) -> Wish:
    return Wish(pump_on=True) if scene.plan.kettle.has_pump else NOTHING


STAGES = (
    Stage(name="begin", wish=nothing, moves=((_in_line, "hoses"), (always, "start"))),
    Stage(
        name="start",
        wish=nothing,
        asks=asks(CallKind.CHILLER_ON),
        moves=((answered(CallKind.CHILLER_ON), "fall"),),
    ),
    Stage(name="fall", wish=nothing, moves=((_fallen, "reached"),)),
    Stage(
        name="reached",
        wish=nothing,
        asks=asks(CallKind.CHILLED),
        moves=((answered(CallKind.CHILLED), DONE),),
    ),
    Stage(name="hoses", wish=nothing, asks=asks(CallKind.HOSES), moves=((answered(CallKind.HOSES), "transfer"),)),
    Stage(
        name="transfer",
        wish=_transfer,
        asks=asks(CallKind.TRANSFERRED),
        moves=((answered(CallKind.TRANSFERRED), DONE),),
        hot_pump=True,
    ),
)
