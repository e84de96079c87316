"""`boil`: climb, wait for the brewer under the boil, pass the hot break, boil off, additions, sanitise."""

from __future__ import annotations

from kettlebridge.brewing.timetable import STAND_BY_UNDER_C
from kettlebridge.core.additions import any_open
from kettlebridge.core.boil import (
    boil_seen,
    doubtful,
    lost_fraction,
    plateau_seen,
    telling_fraction,
    watched,
    watched_climb,
)
from kettlebridge.core.boil_over import HOT_BREAK_S
from kettlebridge.core.calls import CallKind, Wanted
from kettlebridge.core.heat import boil_fraction, loss_fraction
from kettlebridge.core.stage import (
    DONE,
    NOTHING,
    Scene,
    Stage,
    StageState,
    Wish,
    answered,
    asks,
    remaining_s,
)
from kettlebridge.core.steps.heating import timer_done
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.plan import BoilStep

STAND_BY_NEAR_C = 0.3
STAND_BY_LIMIT_S = 45 * 60.0
TAPER_UNDER_C = 2.0
TAPER_LEAST_FRACTION = 0.45
TAPER_SHARE = 0.5
CALM_SHARE = 0.25
"""Of the net power where a climb showed it."""
CALM_UNDER_C = 0.5
"""Wort that fell so far under its boil lost its lid, or was cooled: the climb no longer says what it takes."""
STALLED_SHARE = 0.25
"""Of the net power: where a stall showed what is lost, steam has its part in that."""
RAMP_BACK_S = 5 * 60.0
ASK_BOILING_S = 20 * 60.0
STILL_BOILING_C = 1.5
HOSES_AHEAD_S = 180.0
SANITISED_ENOUGH_S = 300.0
BOILING, HOSES = (Wanted(kind=CallKind.BOILING),), (Wanted(kind=CallKind.HOSES),)


def stand_by_c(kettle: Kettle, stage: StageState) -> float:
    """Where it waits for the brewer: under the boil by the file, or under one that came before that."""
    return (kettle.boil_c if stage.boil_c is None else min(kettle.boil_c, stage.boil_c)) - STAND_BY_UNDER_C


def _stand_by_c(scene: Scene[BoilStep]) -> float:
    return stand_by_c(scene.plan.kettle, scene.stage)


def _climb(scene: Scene[BoilStep]) -> Wish:
    return Wish(target_c=_stand_by_c(scene))


def _at_stand_by(scene: Scene[BoilStep]) -> bool:
    return scene.control_c is not None and scene.control_c >= _stand_by_c(scene) - STAND_BY_NEAR_C


def _boils_already(scene: Scene[BoilStep]) -> bool:
    """It stopped on its way there."""
    return scene.stage.boil_c is not None


def _share_of_net(lost_fraction: float, share: float) -> float:
    """Losses and a share of the rest, so that the hot break's foam stays in the kettle."""
    return lost_fraction + share * (1.0 - lost_fraction)


def _hot_break_fraction(scene: Scene[BoilStep]) -> float:
    kettle = scene.plan.kettle
    by_file = loss_fraction(kettle, kettle.boil_c, scene.ambient_c)
    usual = max(_share_of_net(by_file, TAPER_SHARE), _share_of_net(lost_fraction(scene), STALLED_SHARE))
    return max(TAPER_LEAST_FRACTION, usual)


def _calm_fraction(scene: Scene[BoilStep]) -> float:
    """The hot break's power, or less where a climb has shown how little it takes."""
    climb = scene.stage.climb
    if climb is None or climb.lost_fraction is None:
        return _hot_break_fraction(scene)
    lost = max(lost_fraction(scene), climb.lost_fraction)
    calm = max(_share_of_net(lost, CALM_SHARE), telling_fraction(scene, lost))
    return min(_hot_break_fraction(scene), calm)


def _approach(scene: Scene[BoilStep]) -> Wish:
    """Everything until it is near; then the hot break's power, and more again to tell a plateau from a stall."""
    if scene.stage.suspicion is not None:
        return Wish(fixed_fraction=scene.stage.suspicion.asked_fraction, short_pulses=True)
    near = scene.control_c is not None and scene.control_c >= _boils_at_c(scene) - TAPER_UNDER_C
    return Wish(fixed_fraction=_calm_fraction(scene), short_pulses=True) if near else Wish(fixed_fraction=1.0)


def boil_found(scene: Scene[BoilStep]) -> bool:
    """A plateau where the boil is expected, on a probe that lives, or the brewer's word for it."""
    return boil_seen(scene) or scene.answered(CallKind.BOILING)


def _approach_asks(scene: Scene[BoilStep]) -> tuple[Wanted, ...]:
    asks_now = scene.age_s > ASK_BOILING_S or (plateau_seen(scene) and doubtful(scene))
    return BOILING if asks_now else ()


def _boil_fraction(scene: Scene[BoilStep]) -> float:
    """The hot break's power for 7 min, then over 5 min to what the wanted boil-off needs."""
    boil_off_l_per_h = scene.step.boil_off_l_per_h or scene.plan.kettle.boil_off_l_per_h
    wanted = boil_fraction(scene.plan.kettle, boil_off_l_per_h, scene.ambient_c)
    passed = (scene.stage.timer_s - HOT_BREAK_S) / RAMP_BACK_S
    if passed >= 1.0:
        return wanted
    stays = scene.control_c is not None and scene.control_c >= _boils_at_c(scene) - CALM_UNDER_C
    taper = min(_calm_fraction(scene) if stays else _hot_break_fraction(scene), wanted)
    return taper + (wanted - taper) * max(passed, 0.0)


def _in_the_last(scene: Scene[BoilStep], last_s: float) -> bool:
    left_s = remaining_s(scene.step, scene.stage)
    return left_s is not None and left_s <= last_s


def _sanitising(scene: Scene[BoilStep]) -> bool:
    last_min = scene.step.sanitise_last_min
    return last_min is not None and scene.answered(CallKind.HOSES) and _in_the_last(scene, last_min * 60.0)


def _boils_at_c(scene: Scene[BoilStep]) -> float:
    return scene.stage.boil_c if scene.stage.boil_c is not None else scene.plan.kettle.boil_c


def _off_the_boil(scene: Scene[BoilStep]) -> bool:
    """Too far under the boil that was found: a cold addition, a lock for sugar, or a boil called too early."""
    return scene.control_c is None or off_the_boil(scene.control_c, _boils_at_c(scene))


def off_the_boil(control_c: float, boils_at_c: float) -> bool:
    """Whether that is too far under the boil for its time to count."""
    return control_c < boils_at_c - STILL_BOILING_C


def _boil(scene: Scene[BoilStep]) -> Wish:
    """What a gentle boil-off takes may not bring it back to the boil; the hot break's power does."""
    fraction = _boil_fraction(scene)
    if _off_the_boil(scene):
        fraction = max(fraction, _hot_break_fraction(scene))
    foams = scene.stage.timer_s < HOT_BREAK_S + RAMP_BACK_S
    return Wish(fixed_fraction=fraction, pump_on=_sanitising(scene), short_pulses=foams)


def _boil_asks(scene: Scene[BoilStep]) -> tuple[Wanted, ...]:
    last_min = scene.step.sanitise_last_min
    if last_min is None or not _in_the_last(scene, last_min * 60.0 + HOSES_AHEAD_S):
        return ()
    return HOSES


def _boil_counts(scene: Scene[BoilStep]) -> StageState:
    """Time counts while it boils."""
    stage = scene.stage
    if _off_the_boil(scene):
        return stage
    stage = stage._replace(timer_s=stage.timer_s + scene.dt_s)
    return stage._replace(pumped_s=stage.pumped_s + scene.dt_s) if _sanitising(scene) else stage


def _wrap(scene: Scene[BoilStep]) -> Wish:
    return Wish(pump_on=True) if _short_of_sanitised(scene) and scene.answered(CallKind.HOSES) else NOTHING


def _wrap_counts(scene: Scene[BoilStep]) -> StageState:
    if not scene.answered(CallKind.HOSES):
        return scene.stage
    return scene.stage._replace(pumped_s=scene.stage.pumped_s + scene.dt_s)


def _short_of_sanitised(scene: Scene[BoilStep]) -> bool:
    last_min = scene.step.sanitise_last_min
    return last_min is not None and scene.stage.pumped_s < min(SANITISED_ENOUGH_S, last_min * 60.0)


def _all_in_hand(scene: Scene[BoilStep]) -> bool:
    return not any_open(scene.schedule) and not _short_of_sanitised(scene)


STAGES = (
    Stage(
        name="climb",
        wish=_climb,
        expects_c=_stand_by_c,
        counts=watched_climb,
        moves=((_at_stand_by, "stand_by"), (_boils_already, "stand_by")),
    ),
    Stage(
        name="stand_by",
        wish=_climb,
        asks=asks(CallKind.STAND_BY),
        moves=((answered(CallKind.STAND_BY), "approach"),),
        readies=True,
        hold_limit_s=STAND_BY_LIMIT_S,
    ),
    Stage(
        name="approach",
        wish=_approach,
        asks=_approach_asks,
        counts=watched,
        hold_limit_s=STAND_BY_LIMIT_S,
        moves=((boil_found, "boil"),),
        readies=True,
    ),
    Stage(
        name="boil",
        wish=_boil,
        asks=_boil_asks,
        counts=_boil_counts,
        moves=((timer_done, "wrap"),),
        hot_pump=True,
        heats_with_pump=True,
        boils=True,
        readies=True,
        adds=True,
        timed=True,
    ),
    Stage(
        name="wrap",
        wish=_wrap,
        asks=_boil_asks,
        counts=_wrap_counts,
        moves=((_all_in_hand, DONE),),
        hot_pump=True,
    ),
)
