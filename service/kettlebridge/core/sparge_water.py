"""When to start heating the sparge water in its own pot, so that it is hot when the basket is lifted."""

from __future__ import annotations

from kettlebridge.brewing.day import TAP_C
from kettlebridge.brewing.timetable import SPARGE_READY_MIN, TAKEN_OVER_SHARE
from kettlebridge.brewing.water import WATER_J_PER_KG_K
from kettlebridge.core.calls import CallKind, Wanted
from kettlebridge.core.hands import ask_s
from kettlebridge.core.heat import Contents
from kettlebridge.core.known import Known, beforehand, promised_c_per_s
from kettlebridge.core.ledger import litres_asked
from kettlebridge.core.stage import Scene, remaining_s
from kettlebridge.model.plan import AnyStep, AskKind, AskStep, HeatStep, Plan, RestStep, Water
from kettlebridge.model.units import S_PER_MIN

WANTED = Wanted(kind=CallKind.SPARGE_WATER)


def pot_s(water: Water) -> float | None:
    """How long the pot takes, and some minutes to spare; None without a hot sparge, or where its power is not known."""
    if not water.sparge_l or water.sparge_pot_w is None or water.sparge_c <= TAP_C:
        return None
    heat_j = WATER_J_PER_KG_K * water.sparge_l * (water.sparge_c - TAP_C)
    return heat_j / (TAKEN_OVER_SHARE * water.sparge_pot_w) + SPARGE_READY_MIN * S_PER_MIN


def after_s(plan: Plan, index: int, known: Known | None) -> float | None:
    """From the end of step `index` to the sparge, as things usually go; None where none is ahead, or no call is due."""
    if pot_s(plan.profile.water) is None:
        return None
    later = plan.profile.steps[index + 1 :]
    sparge = next((place for place, step in enumerate(later) if is_sparge(step)), None)
    if sparge is None:
        return None
    lasts_s, liquid_c = 0.0, _leaves_c(plan.profile.steps[index])
    for step in later[:sparge]:
        lasts_s += _lasts_s(plan, step, liquid_c, known)
        liquid_c = _leaves_c(step) or liquid_c
    return lasts_s


def due(scene: Scene[AnyStep]) -> bool:
    """Whether it is time, by what is left of the step in hand and by what comes before the sparge."""
    later_s, needed_s = scene.stage.before_sparge_s, pot_s(scene.plan.profile.water)
    return later_s is not None and needed_s is not None and _left_s(scene) + later_s <= needed_s


def _left_s(scene: Scene[AnyStep]) -> float:
    """Of the step in hand, as it usually goes."""
    step, stage = scene.step, scene.stage
    if isinstance(step, AskStep):
        return max(ask_s(step.what, litres_asked(step, scene.plan)) - scene.step_age_s, 0.0)
    on_the_way_s = max((stage.expected_s or 0.0) - scene.age_s, 0.0)
    return on_the_way_s + max(remaining_s(step, stage) or 0.0, 0.0)


def is_sparge(step: AnyStep) -> bool:
    """Whether a step is the sparge."""
    return isinstance(step, AskStep) and step.what is AskKind.SPARGE


def _leaves_c(step: AnyStep) -> float | None:
    """How warm a step leaves the liquid, None where it changes nothing."""
    if isinstance(step, RestStep):
        return step.at_c
    return step.to_c if isinstance(step, HeatStep) else None


def _lasts_s(plan: Plan, step: AnyStep, from_c: float | None, known: Known | None) -> float:
    if isinstance(step, AskStep):
        return ask_s(step.what, litres_asked(step, plan))
    to_c, for_min = _leaves_c(step), getattr(step, "for_min", 0.0)
    if to_c is None or from_c is None or to_c <= from_c:
        return float(for_min * S_PER_MIN)
    contents = Contents(volume_l=plan.profile.water.fill_l, grain_kg=plan.profile.water.grain_kg)
    known = known or beforehand(plan.kettle, plan.learnt)
    return float(
        for_min * S_PER_MIN + (to_c - from_c) / (known.rate_fraction * promised_c_per_s(plan.kettle, contents))
    )
