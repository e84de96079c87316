"""What a course is judged by: one row for each metric. None from a row: it was never reached, a failure."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

from kettlebridge.model.units import S_PER_H, S_PER_MIN
from kettlebridge.simulated.family.course import Course, Second, is_ssr
from kettlebridge.simulated.family.draw import MASH_OUT_C, REST_C

SETTLED_C = 0.3
BED_THERE_C = 0.5
HOLD_S = 900
FINAL_S = 600


@dataclass(frozen=True, slots=True, kw_only=True)
class Metric:
    """`of` gives the figure of a course; `only` says which courses have one."""

    key: str
    words: str
    digits: int
    of: Callable[[Course], float | None]
    only: Callable[[Course], bool] = lambda course: True


def _is_contactor(course: Course) -> bool:
    return not is_ssr(course)


def _mean(values: list[float]) -> float:
    return math.fsum(values) / len(values)


def _rms(values: list[float], about: float) -> float:
    return math.sqrt(_mean([(value - about) ** 2 for value in values]))


def _strike(course: Course) -> list[Second]:
    return course.phases["strike"]


def _strike_over_bulk(course: Course) -> float:
    return max(max(second.bulk_c for second in _strike(course)) - course.member.strike_c, 0.0)


def _strike_over_probe(course: Course) -> float:
    return max(max(second.probe_c for second in _strike(course)) - course.member.strike_c, 0.0)


def _settle_over_bound(course: Course) -> float | None:
    """When the bulk came within 0.3 °C for good, over the energy bound."""
    outside = [s.now_s for s in _strike(course) if abs(s.bulk_c - course.member.strike_c) > SETTLED_C]
    settled_s = outside[-1] if outside else 0.0
    if settled_s > _strike(course)[-1].now_s - HOLD_S / 2 or not course.bound_s:
        return None
    return settled_s / course.bound_s


def _strike_hold_rms(course: Course) -> float:
    return _rms([s.probe_c for s in _strike(course)[-HOLD_S:]], course.member.strike_c)


def _strike_iae(course: Course) -> float:
    """°C min of the bulk's error, from the moment at which it could have been there."""
    begun_s = course.bound_s or 0.0
    return math.fsum(abs(s.bulk_c - course.member.strike_c) for s in _strike(course) if s.now_s > begun_s) / S_PER_MIN


def _rest_hold_rms(course: Course) -> float:
    probe = [s.probe_c for s in course.phases["rest"][-HOLD_S:]]
    return _rms(probe, _mean(probe))


def _bed_rms(course: Course) -> float:
    return _rms([s.bed_c for s in course.phases["rest"][-HOLD_S:]], REST_C)


def _probe_over_bed_target(course: Course) -> float:
    return max(s.probe_c for s in course.phases["rest"][-HOLD_S:]) - REST_C


def _ramp_over_probe(course: Course) -> float:
    """Above the level at which it then stays: a bed-referenced regulator holds the probe above the target."""
    seconds = course.phases["ramp"]
    final_c = _mean([s.probe_c for s in seconds[-FINAL_S:]])
    return max(max(s.probe_c for s in seconds) - final_c, 0.0)


def _ramp_over_bed(course: Course) -> float:
    return max(max(s.bed_c for s in course.phases["ramp"]) - MASH_OUT_C, 0.0)


def _bed_there_s(course: Course) -> float | None:
    seconds = course.phases["ramp"]
    final_c = _mean([s.bed_c for s in seconds[-FINAL_S:]])
    outside = [s.now_s for s in seconds if abs(s.bed_c - final_c) > BED_THERE_C]
    there_s = outside[-1] if outside else 0.0
    return None if there_s > seconds[-FINAL_S].now_s else there_s


def _bed_at_target_s(course: Course) -> float | None:
    """When the bed came within 0.5 °C of the target itself, for good."""
    seconds = course.phases["ramp"]
    outside = [s.now_s for s in seconds if abs(s.bed_c - MASH_OUT_C) > BED_THERE_C]
    there_s = outside[-1] if outside else 0.0
    return None if there_s > seconds[-FINAL_S].now_s else there_s


def _peak_gap(course: Course) -> float:
    return max(s.probe_c - s.bed_c for s in course.phases["ramp"])


def _closings_per_h(course: Course) -> float:
    """Off to on, while a temperature is held or ramped to: the holds of strike water and mash."""
    closings, seconds = 0, 0
    for part in (_strike(course)[-HOLD_S:], course.phases["rest"], course.phases["ramp"]):
        closings += sum(1 for a, b in pairwise(part) if a.permille == 0 < b.permille)
        seconds += len(part)
    return closings * S_PER_H / seconds


def _hottest_element(course: Course) -> float:
    return max(s.element_c for name in ("rest", "ramp") for s in course.phases[name])


METRICS: tuple[Metric, ...] = (
    Metric(key="strike_overshoot_bulk_c", words="strike overshoot, bulk °C", digits=2, of=_strike_over_bulk),
    Metric(key="strike_overshoot_probe_c", words="strike overshoot, probe °C", digits=2, of=_strike_over_probe),
    Metric(key="strike_settle_over_bound", words="settled ±0.3 °C / energy bound", digits=3, of=_settle_over_bound),
    Metric(key="strike_iae_c_min", words="strike IAE after the bound, °C min", digits=1, of=_strike_iae),
    Metric(key="strike_hold_rms_ssr_c", words="strike hold RMS, SSR °C", digits=3, of=_strike_hold_rms, only=is_ssr),
    Metric(
        key="strike_hold_rms_contactor_c",
        words="strike hold RMS, contactor °C",
        digits=3,
        of=_strike_hold_rms,
        only=_is_contactor,
    ),
    Metric(key="rest_hold_rms_ssr_c", words="rest unrest at probe, SSR °C", digits=3, of=_rest_hold_rms, only=is_ssr),
    Metric(
        key="rest_hold_rms_contactor_c",
        words="rest unrest at probe, contactor °C",
        digits=3,
        of=_rest_hold_rms,
        only=_is_contactor,
    ),
    Metric(key="rest_bed_rms_c", words="rest RMS of the bed about the target °C", digits=2, of=_bed_rms),
    Metric(key="rest_probe_above_c", words="rest, probe above the target °C", digits=2, of=_probe_over_bed_target),
    Metric(
        key="ramp_overshoot_probe_ssr_c",
        words="ramp overshoot, probe, SSR °C",
        digits=2,
        of=_ramp_over_probe,
        only=is_ssr,
    ),
    Metric(
        key="ramp_overshoot_probe_contactor_c",
        words="ramp overshoot, probe, contactor °C",
        digits=2,
        of=_ramp_over_probe,
        only=_is_contactor,
    ),
    Metric(key="ramp_overshoot_bed_c", words="ramp overshoot, bed °C", digits=2, of=_ramp_over_bed),
    Metric(key="bed_there_s", words="bed within 0.5 °C of where it stays, s", digits=0, of=_bed_there_s),
    Metric(key="bed_at_target_s", words="bed within 0.5 °C of the target, s", digits=0, of=_bed_at_target_s),
    Metric(key="peak_gap_c", words="largest gap, probe over bed °C", digits=1, of=_peak_gap),
    Metric(key="closings_per_h", words="contactor closings per hour", digits=0, of=_closings_per_h, only=_is_contactor),
    Metric(key="hottest_element_c", words="hottest element in the mash °C", digits=1, of=_hottest_element),
)
"""One row per column of the result; a new figure is a new row."""
