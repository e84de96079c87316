"""Is it boiling? A plateau near the expected boiling point, found without knowing the altitude exactly.

A liquid rests where it boils, and also where an open kettle's losses take all that a tapered heater gives. Losses grow
slowly with the temperature: a climb that brings at least half of what it should, and stops within two minutes at the
same power, has come to the boil. A climb that fades tells nothing. Then the liquid is asked: the heater gives more.
What boils stays; what rises was short of power, and the power at which it stood still is what it is known to lose.
However long that takes, the boil is dated back to when the liquid came to that level.

Where it must not come to the boil yet, all that counts is that a climb stops and does not go on: a kettle file may be
wrong about the altitude, and then the liquid boils before it is as hot as it was to be held.

The figures here were tuned on the simulator.
"""

from __future__ import annotations

from kettlebridge.core.heat import Contents, loss_fraction, rise_c_per_s
from kettlebridge.core.stage import Climb, Scene, StageState, Suspicion, at_stage
from kettlebridge.core.trail import EVERY_S, Trail
from kettlebridge.model.kettle import HeaterDrive
from kettlebridge.model.plan import BoilStep

UNDER_EXPECTED_C = 3.0
OVER_EXPECTED_C = 2.0
WINDOW_S = 60.0
LEAST_RISE_C = 0.25
"""A minute that should bring less than this tells nothing: a probe's step is 0.0625 °C."""
TELLING_C = 1.2 * LEAST_RISE_C
PLATEAU_SHARE = 0.12
STEADY_FRACTION = 0.02
"""Power that changed by more than this within the trail moves by itself what the probe reads."""
RISEN_C = 1.0
FALLEN_C = 0.15
"""What falls by more within the trail does not boil."""
CLIMB_SHARE = 0.5
CLIMB_PARTS = 4
"""Of the trail's 10 s means, the newest: layers and probe have followed a change of power by then."""
CLIMBED_S = 120.0
FULL_FRACTION = 0.99
STOPPED_FOR_S = {HeaterDrive.SSR: 45.0, HeaterDrive.CONTACTOR: 75.0}
ASKS_C_PER_MIN = 0.3
"""What the power that asks should bring: enough to show, for everything would foam over."""
LEAST_ASKED_C_PER_MIN = 0.2
ANSWER_C = 0.4
"""What it should have brought when the liquid is judged."""
ANSWER_DELAY_S = 45.0
"""From a change of power to its being read: element, layers, probe."""
SILENT_S = 120.0
GIVEN_WITHIN_S = 12.0
"""The trail notes the least power of each 10 s."""
DISPROVED_C = 0.12
"""Rise in a minute that ends a suspicion: nearly five times the noise of the means that it is read from."""
STILL_C = 0.06
"""What moves by more in a minute is not called a boil yet."""
SAME_LEVEL_C = 0.1
STOPS_WITHIN_C = 2.0
"""A climb that fades goes on for five degrees and more from half of its rise to next to nothing: steam grows by 4 % a
degree. One that boils stops."""
SAME_C = 1e-6
"""Means of one value may differ in their last digits; a probe's smallest step is 0.0625 °C."""


def _full_rise_c(scene: Scene[BoilStep]) -> float:
    """What full power brings in a minute, losses aside; 0 while nothing is known to be in the kettle."""
    volume_l = scene.ledger.volume_l
    return rise_c_per_s(scene.plan.kettle, Contents(volume_l=volume_l)) * WINDOW_S if volume_l else 0.0


def _steady(trail: Trail) -> bool:
    return trail.whole and max(*trail.duties, trail.duty_fraction) - trail.least_duty_fraction <= STEADY_FRACTION


def _expected_c(scene: Scene[BoilStep]) -> float | None:
    """What power and losses by the file should have brought in the last minute.

    None where that tells nothing: too little, or power changed (a heater just switched on has brought nothing yet).
    """
    return _least_expected_c(scene) if _steady(scene.trail) else None


def _least_expected_c(scene: Scene[BoilStep]) -> float | None:
    """The same of the least power of that minute, however it changed: what was just given more may not show it yet."""
    if scene.control_c is None or not scene.trail.whole:
        return None
    lost = loss_fraction(scene.plan.kettle, scene.control_c, scene.ambient_c)
    expected_c = _full_rise_c(scene) * (scene.trail.least_duty_fraction - lost)
    return expected_c if expected_c >= LEAST_RISE_C else None


def plateau(scene: Scene[BoilStep]) -> bool:
    """Whether the last minute rose by less than 12 % of what it should have; a probe that did not follow shows none."""
    return _stands(scene, _expected_c(scene))


def _stands(scene: Scene[BoilStep], expected_c: float | None) -> bool:
    begun_c = scene.stage.begun_c
    if expected_c is None or scene.control_c is None or begun_c is None:
        return False
    return scene.control_c - begun_c >= RISEN_C and scene.trail.rise_c < PLATEAU_SHARE * expected_c


def _climb(scene: Scene[BoilStep]) -> Climb | None:
    """What a climb shows. At full power it is too short to show what is lost."""
    expected_c, trail = _expected_c(scene), scene.trail
    if expected_c is None:
        return None
    rise_c = (trail.values_c[-1] - trail.values_c[-1 - CLIMB_PARTS]) * WINDOW_S / (CLIMB_PARTS * EVERY_S)
    if rise_c < CLIMB_SHARE * expected_c:
        return None
    at_fraction, before = trail.least_duty_fraction, scene.stage.climb
    lost = None if before is None else before.lost_fraction
    if lost is None and at_fraction < FULL_FRACTION:
        lost = max(at_fraction - rise_c / _full_rise_c(scene), 0.0)
    return Climb(seen_s=scene.now_s, seen_c=trail.values_c[-1], at_fraction=at_fraction, lost_fraction=lost)


def _stopped(scene: Scene[BoilStep]) -> bool:
    """Whether a plateau is the sudden end of a climb at no less power; one before a pause does not count."""
    climb = scene.stage.climb
    if climb is None or climb.seen_s < max(scene.now_s - CLIMBED_S, scene.stage.begun_s):
        return False
    return scene.trail.least_duty_fraction >= climb.at_fraction - STEADY_FRACTION


def lost_fraction(scene: Scene[BoilStep]) -> float:
    """Share of full power that near the boil only replaces losses: by the file, or what a stall has shown."""
    by_file = loss_fraction(scene.plan.kettle, scene.plan.kettle.boil_c, scene.ambient_c)
    return max(by_file, scene.stage.stalled_fraction or 0.0)


def telling_fraction(scene: Scene[BoilStep], lost_fraction: float) -> float:
    """The least duty whose rise would show where that share is lost."""
    full_c = _full_rise_c(scene)
    return min(lost_fraction + TELLING_C / full_c, 1.0) if full_c else 1.0


def frozen(trail: Trail) -> bool:
    """Whether the probe repeats one value to the last digit: it may hang, and confirms nothing."""
    return max(trail.values_c) - min(trail.values_c) < SAME_C if trail.values_c else True


def near_expected(scene: Scene[BoilStep]) -> bool:
    """Whether the probe is where this kettle's boil is expected."""
    boil_c = scene.plan.kettle.boil_c
    return scene.control_c is not None and -UNDER_EXPECTED_C <= scene.control_c - boil_c <= OVER_EXPECTED_C


def watched(scene: Scene[BoilStep]) -> StageState:
    """The stage with a climb seen; a suspicion begun, followed, disproved or confirmed.

    What a disproved one shows of the losses is kept. Of a confirmed one the boil's time counts from where it began.
    """
    stage, trail = scene.stage, scene.trail
    if stage.suspicion is not None:
        return _followed(scene, stage.suspicion)
    if plateau(scene):
        if max(trail.values_c) - trail.values_c[-1] > FALLEN_C:
            return _stalled(stage, trail.least_duty_fraction)
        return stage._replace(suspicion=_suspicion(scene))
    climb = _climb(scene)
    return stage if climb is None else stage._replace(climb=climb)


def watched_climb(scene: Scene[BoilStep]) -> StageState:
    """The stage of a climb that is to end under the boil; where it stopped, which is where it boils, with `boil_c`."""
    stage, trail = scene.stage, scene.trail
    climb = _climb(scene)
    if climb is not None:
        return stage._replace(climb=climb._replace(lost_fraction=None), suspicion=None)
    if not _stands(scene, _least_expected_c(scene)) or not _stopped_short(scene):
        return stage if stage.suspicion is None else stage._replace(suspicion=None)
    if stage.suspicion is None:
        stood, level_c = trail.least_duty_fraction, trail.values_c[-1]
        return stage._replace(suspicion=Suspicion(scene.now_s, level_c, stood, scene.now_s, stood, SILENT_S))
    return stage._replace(boil_c=trail.values_c[-1]) if plateau_seen(scene) else stage


def _stopped_short(scene: Scene[BoilStep]) -> bool:
    """Whether it stands near where it was last seen to climb in this stage, and did not fall."""
    climb, trail = scene.stage.climb, scene.trail
    if climb is None or climb.seen_s < scene.stage.begun_s or max(trail.values_c) - trail.values_c[-1] > FALLEN_C:
        return False
    return trail.values_c[-1] - climb.seen_c <= STOPS_WITHIN_C


def _suspicion(scene: Scene[BoilStep]) -> Suspicion:
    stood, full_c = scene.trail.least_duty_fraction, _full_rise_c(scene)
    asked, asks_for_s = stood, None
    if _stopped(scene):
        asks_for_s = STOPPED_FOR_S[scene.plan.kettle.drive]
    else:
        asked = min(stood + ASKS_C_PER_MIN / full_c, 1.0)
        more_c = full_c * (asked - stood)
        if more_c >= LEAST_ASKED_C_PER_MIN:
            asks_for_s = ANSWER_DELAY_S + ANSWER_C / more_c * WINDOW_S
    return Suspicion(
        since_s=scene.now_s,
        level_c=scene.trail.values_c[-1],
        stood_fraction=stood,
        asked_s=scene.now_s,
        asked_fraction=asked,
        asks_for_s=asks_for_s,
    )


def _followed(scene: Scene[BoilStep], suspicion: Suspicion) -> StageState:
    stage, trail = scene.stage, scene.trail
    if trail.rise_c > DISPROVED_C or (trail.values_c and trail.values_c[-1] < suspicion.level_c - FALLEN_C):
        return _stalled(stage, suspicion.stood_fraction)
    if scene.now_s - suspicion.asked_s > GIVEN_WITHIN_S and _held_back(scene, suspicion):
        return stage._replace(suspicion=None)
    if trail.values_c and trail.values_c[-1] > suspicion.level_c + SAME_LEVEL_C:
        suspicion = suspicion._replace(since_s=scene.now_s, level_c=trail.values_c[-1])
        stage = stage._replace(suspicion=suspicion)
    if boil_seen(at_stage(scene, stage)):
        return stage._replace(timer_s=scene.now_s - suspicion.since_s)
    return stage


def _stalled(stage: StageState, at_fraction: float) -> StageState:
    """Short of power at that duty, not boiling."""
    lost = max(stage.stalled_fraction or 0.0, at_fraction)
    return stage._replace(suspicion=None, climb=None, stalled_fraction=lost)


def _held_back(scene: Scene[BoilStep], suspicion: Suspicion) -> bool:
    """Whether something else holds the power back or cuts it: that asks nothing."""
    return scene.trail.duty_fraction < suspicion.asked_fraction - STEADY_FRACTION


def plateau_seen(scene: Scene[BoilStep]) -> bool:
    """Whether a suspicion has lasted, and the liquid still stands."""
    suspicion = scene.stage.suspicion
    if suspicion is None or not scene.trail.whole or abs(scene.trail.rise_c) > STILL_C:
        return False
    lasts_s = SILENT_S if suspicion.asks_for_s is None else suspicion.asks_for_s
    return scene.now_s - suspicion.asked_s >= lasts_s


def doubtful(scene: Scene[BoilStep]) -> bool:
    """Whether a plateau is the brewer's to judge: off the boil, on a probe that may hang, or with no power to ask."""
    suspicion = scene.stage.suspicion
    silent = suspicion is not None and suspicion.asks_for_s is None
    return silent or not near_expected(scene) or frozen(scene.trail)


def boil_seen(scene: Scene[BoilStep]) -> bool:
    """Whether a plateau has lasted where the boil is expected, on a probe that lives."""
    return plateau_seen(scene) and not doubtful(scene)
