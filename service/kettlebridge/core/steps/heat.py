"""`heat`: bring to a temperature, as late as the ready time allows, and keep it until the brewer is there.

With a ready time nothing heats unless the kettle is armed for it (core.arming_phases), or somebody is there and says
so: at the hour one that is not armed stays cold and asks.

The start is found anew in every tick of the night, from the liquid's temperature then and from what earlier heat-ups
taught. When the brewer comes and says how cold the grain is, the strike temperature is corrected for it.
"""

from __future__ import annotations

from kettlebridge.core.arming_state import asked
from kettlebridge.core.calls import CallKind, Wanted
from kettlebridge.core.heat import MALT_J_PER_KG_K, Contents, Way, reach_s
from kettlebridge.core.known import beforehand, capacity_j_per_k, rise_by
from kettlebridge.core.stage import DONE, Scene, Stage, Wish, answered, asks, nothing
from kettlebridge.core.steps.heating import TOLERANCE_C, near, settled, target_c
from kettlebridge.model.plan import HeatStep, Water

WAIT = "wait"
COLD = Wanted(kind=CallKind.COLD)
"""It is time to heat, and nothing may without somebody there."""
ATTENDED = (Wanted(kind=CallKind.PRESENT), COLD)
"""Each says that somebody is there."""
HOT_HOLD_LIMIT_S = 2 * 3600.0
READY_MARGIN_FRACTION = 0.08
READY_MARGIN_S = 60.0
LATE_S = 60.0
"""Less than this is not worth a word."""


def _waits(scene: Scene[HeatStep]) -> bool:
    return scene.step.ready and scene.plan.ready_at_utc_s is not None


def _needed_s(scene: Scene[HeatStep]) -> float | None:
    """From now to being there, margin not included; None while unknown, or where losses never let it get there."""
    if scene.control_c is None or not scene.ledger.volume_l:
        return None
    kettle = scene.plan.kettle
    known = scene.known or beforehand(kettle, scene.plan.learnt)
    way = Way(from_c=scene.control_c, to_c=target_c(scene), ambient_c=scene.ambient_c)
    return reach_s(rise_by(known, kettle, Contents(volume_l=scene.ledger.volume_l)), way)


def start_due(scene: Scene[HeatStep]) -> bool:
    """Whether heating must begin now to be there at the ready time, margin included."""
    ready_at_utc_s = scene.plan.ready_at_utc_s
    if not scene.step.ready or ready_at_utc_s is None or scene.control_c is None or scene.ledger.volume_l is None:
        return not _waits(scene)
    needed_s = _needed_s(scene)
    if needed_s is None:
        return True
    return scene.at_utc_s + needed_s * (1.0 + READY_MARGIN_FRACTION) + READY_MARGIN_S >= ready_at_utc_s


def late_s(scene: Scene[HeatStep]) -> float | None:
    """By how much the ready time will be missed though heating begins now; None where it will not."""
    ready_at_utc_s, needed_s = scene.plan.ready_at_utc_s, _needed_s(scene)
    if not scene.step.ready or ready_at_utc_s is None or needed_s is None:
        return None
    late = scene.at_utc_s + needed_s - ready_at_utc_s
    return late if late > LATE_S else None


def for_grain_c(to_c: float, water: Water, volume_l: float, grain_c: float) -> float | None:
    """The strike temperature for grain of `grain_c`, where `to_c` was meant for the profile's; None without that."""
    if water.grain_c is None or not water.grain_kg or volume_l <= 0.0:
        return None
    grain_j_per_k = MALT_J_PER_KG_K * water.grain_kg
    return to_c + grain_j_per_k / capacity_j_per_k(Contents(volume_l=volume_l)) * (water.grain_c - grain_c)


def _wish(scene: Scene[HeatStep]) -> Wish:
    return Wish(target_c=target_c(scene), pump_on=scene.step.pump)


_present = answered(CallKind.PRESENT)
_came = answered(CallKind.COLD)


def _may_heat(scene: Scene[HeatStep]) -> bool:
    """Somebody is there, or was when it began; or it is armed."""
    return not _waits(scene) or scene.arming.armed or _present(scene) or _came(scene)


def _may_not_heat(scene: Scene[HeatStep]) -> bool:
    return not _may_heat(scene)


def _begins(scene: Scene[HeatStep]) -> bool:
    return start_due(scene) and _may_heat(scene) and not scene.arming.under_way


def _asks_waiting(scene: Scene[HeatStep]) -> tuple[Wanted, ...]:
    if scene.arming.under_way or not _waits(scene):
        return asked(scene.arming)
    return (COLD,) if start_due(scene) and not _may_heat(scene) else ()


def _settled_for_nobody(scene: Scene[HeatStep]) -> bool:
    return settled(scene) and _waits(scene) and not _present(scene)


def _present_but_too_cold(scene: Scene[HeatStep]) -> bool:
    """The grain is colder than was thought."""
    return _present(scene) and scene.control_c is not None and scene.control_c < target_c(scene) - TOLERANCE_C


STAGES = (
    Stage(name=WAIT, wish=nothing, asks=_asks_waiting, moves=((_begins, "heat"),)),
    Stage(
        name="heat",
        wish=_wish,
        counts=near,
        expects_c=target_c,
        moves=((_may_not_heat, WAIT), (_settled_for_nobody, "hot_hold"), (settled, DONE)),
        heats_with_pump=True,
    ),
    Stage(
        name="hot_hold",
        wish=_wish,
        asks=asks(CallKind.PRESENT),
        moves=((_may_not_heat, WAIT), (_present_but_too_cold, "heat"), (_present, DONE)),
        heats_with_pump=True,
        hold_limit_s=HOT_HOLD_LIMIT_S,
    ),
)
