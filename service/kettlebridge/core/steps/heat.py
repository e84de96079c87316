"""`heat`: bring to a temperature, as late as the ready time allows, and keep it until the brewer is there."""

from __future__ import annotations

from kettlebridge.core.calls import CallKind
from kettlebridge.core.heat import Contents, Way, time_to_reach_s
from kettlebridge.core.stage import DONE, Scene, Stage, Wish, answered, asks, nothing
from kettlebridge.core.steps.heating import near, settled, target_c
from kettlebridge.model.plan import HeatStep

HOT_HOLD_LIMIT_S = 2 * 3600.0
READY_MARGIN_FRACTION = 0.08
READY_MARGIN_S = 60.0


def _waits(scene: Scene[HeatStep]) -> bool:
    return scene.step.ready and scene.plan.ready_at_utc_s is not None


def start_due(scene: Scene[HeatStep]) -> bool:
    """Whether heating must begin now to be there at the ready time, margin included."""
    ready_at_utc_s = scene.plan.ready_at_utc_s
    if not scene.step.ready or ready_at_utc_s is None or scene.control_c is None or scene.ledger.volume_l is None:
        return not _waits(scene)
    way = Way(from_c=scene.control_c, to_c=target_c(scene), ambient_c=scene.ambient_c)
    needed_s = time_to_reach_s(scene.plan.kettle, Contents(volume_l=scene.ledger.volume_l), way)
    if needed_s is None:
        return True
    return scene.at_utc_s + needed_s * (1.0 + READY_MARGIN_FRACTION) + READY_MARGIN_S >= ready_at_utc_s


def _wish(scene: Scene[HeatStep]) -> Wish:
    return Wish(target_c=target_c(scene), pump_on=scene.step.pump)


def _settled_for_nobody(scene: Scene[HeatStep]) -> bool:
    return settled(scene) and _waits(scene)


STAGES = (
    Stage(name="wait", wish=nothing, moves=((start_due, "heat"),)),
    Stage(
        name="heat",
        wish=_wish,
        counts=near,
        expects_c=target_c,
        moves=((_settled_for_nobody, "hot_hold"), (settled, DONE)),
        heats_with_pump=True,
    ),
    Stage(
        name="hot_hold",
        wish=_wish,
        asks=asks(CallKind.PRESENT),
        moves=((answered(CallKind.PRESENT), DONE),),
        heats_with_pump=True,
        hold_limit_s=HOT_HOLD_LIMIT_S,
    ),
)
