"""What a calibration with water found, against what the kettle file says. Pure sums over its record.

The kettle's mean temperature is read from one probe, so the first minutes of a heat-up or a cooling are left out:
layers and probe are still on their way.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import fsum, hypot, log, sqrt
from typing import NamedTuple

from kettlebridge.brewing.calibration_day import BOIL, COOLING, ICE, WARM_UP, Part
from kettlebridge.brewing.calibration_record import Record, Told, Unmeasured
from kettlebridge.brewing.day import Day
from kettlebridge.brewing.energy import BOIL_OFF_W_PER_L_H
from kettlebridge.brewing.straight import slope_of
from kettlebridge.brewing.surface import evaporation_w
from kettlebridge.brewing.timetable import climb_vapour_l
from kettlebridge.brewing.vessel import surface_m2
from kettlebridge.model.kettle import Kettle, Probe, ProbeRole
from kettlebridge.model.trace import Trace
from kettlebridge.model.units import S_PER_H

LAYERS_S = 180.0
ICE_S = 90.0
BOILS_FOR_S = 120.0
FULL_FRACTION = 0.99
LEAST_POINTS = 6
LITRES_SPREAD = 0.01
"""Of litres poured with a measured jug (estimate)."""
SCALE_SPREAD_L = 0.2
"""Of one look at a scale on the wall, or at a jug (estimate)."""
JUG_SPREAD_L = 0.05
ROOM_SPREAD_C = 1.0
SHARE_SPREAD = 0.04
"""Of the heater's share of full power over a boil: a contactor is seen on or off, every ten seconds (simulator)."""
VAPOUR_SPREAD = 0.5
"""Of what a lid lets out (Shah's equation is good to 30 %, the lid's leak is an estimate)."""
STEADY_C = 0.15
FURTHEST_PROBE_C = 5.0
LEAST_FALL_C = 2.0
MOST_LEFT_FRACTION = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """`spread` is one standard deviation; `refused` says why the figure is not to be believed."""

    part: Part
    key: str
    unit: str
    now: float
    found: float | None
    spread: float | None = None
    refused: str | None = None
    points_c: tuple[float, float] | None = None
    """Of a probe: what it read in ice and in boiling water."""
    written: bool = True
    """Whether it is ever written into the file, or only held against it."""

    @property
    def worth_taking(self) -> bool:
        """Believed, and further from the file than it is unsure."""
        if not self.written or self.found is None or self.spread is None or self.refused is not None:
            return False
        return abs(self.found - self.now) > self.spread


class _Row(NamedTuple):
    """`of` gives a figure and its spread; `most_spread` is a share of the figure, `within` times what the file says.

    Further off, something else is wrong. One that is not `written` is only held against the file.
    """

    part: Part
    key: str
    unit: str
    of: Callable[[Record], tuple[float, float]]
    most_spread: float
    within: tuple[float, float]
    written: bool = True


def control_probe(kettle: Kettle) -> Probe:
    """The one that is calibrated."""
    return next(probe for probe in kettle.probes if probe.role is ProbeRole.CONTROL)


def findings(kettle: Kettle, trace: Trace, told: Told) -> tuple[Finding, ...]:
    """Of every part that the record holds; what was skipped is left out."""
    record = Record(kettle=kettle, trace=trace, told=told)
    probe, record = _probe(record)
    rest = (_found(row, record) for row in ROWS)
    return tuple(each for each in (probe, *rest) if each is not None)


def _probe(record: Record) -> tuple[Finding | None, Record]:
    """The two points, and the record read by them where they can be believed."""
    blank = Finding(part=Part.PROBE, key="read_c", unit="°C", now=0.0, found=None)
    try:
        ice, boil = _steady(record, ICE, ICE_S), _steady(record, BOIL, BOILS_FOR_S)
    except Unmeasured:
        return None, record
    except ValueError as error:
        return replace(blank, refused=str(error)), record
    off_c = max((ice[0], boil[0] - record.told.boil_c), key=abs)
    probe = control_probe(record.kettle)
    raw_c = tuple((shown_c - probe.offset_c) / probe.gain for shown_c in (ice[0], boil[0]))
    spread_c = max(ice[1], boil[1])
    refused = None
    if spread_c > STEADY_C:
        refused = f"it wandered by {spread_c:.2f} °C in ice or boiling water: it was not wet, or not still"
    elif abs(off_c) > FURTHEST_PROBE_C:
        refused = f"it is {off_c:+.1f} °C off: no ice, no boil, or a probe to be replaced"
    points_c = (round(raw_c[0], 2), round(raw_c[1], 2))
    finding = replace(blank, found=-off_c, spread=spread_c, refused=refused, points_c=points_c)
    return finding, record if refused else replace(record, ice_c=ice[0], boiling_c=boil[0])


def _steady(record: Record, name: str, last_s: float) -> tuple[float, float]:
    """Mean and spread over the last seconds of a step."""
    points = record.points(name)
    values = [value_c for at_s, value_c in points if points and at_s >= points[-1][0] - last_s]
    if len(values) < LEAST_POINTS:
        raise ValueError(f"it was in the {name} for too short a time: stir for three minutes, boil for two")
    mean = fsum(values) / len(values)
    return mean, sqrt(fsum((value_c - mean) ** 2 for value_c in values) / (len(values) - 1))


def _loss_w_per_k(record: Record) -> tuple[float, float]:
    """From the fall of ln(T - room); what the lid lets out as vapour is not the kettle's own loss."""
    points = [(at_s, value_c) for at_s, value_c in record.points(COOLING, most=0.0) if at_s >= LAYERS_S]
    over_c = [(at_s, value_c - record.told.room_c) for at_s, value_c in points]
    if len(over_c) < LEAST_POINTS or over_c[0][1] - over_c[-1][1] < LEAST_FALL_C or over_c[-1][1] <= 0.0:
        raise ValueError(f"it fell by less than {LEAST_FALL_C:g} °C: leave it alone for longer")
    slope = slope_of([(at_s, log(above_c)) for at_s, above_c in over_c])
    mean_c = fsum(above_c for _, above_c in over_c) / len(over_c)
    hot_c = record.told.room_c + mean_c
    vapour = evaporation_w(surface_m2(record.kettle), hot_c, record.told.room_c, lid_on=True) / mean_c
    whole = -slope.value * record.heat_j_per_k
    doubts = (
        slope.spread * record.heat_j_per_k,
        LITRES_SPREAD * whole,
        whole * ROOM_SPREAD_C / mean_c,
        VAPOUR_SPREAD * vapour,
    )
    return whole - vapour, hypot(*doubts)


def _heater_w(record: Record) -> tuple[float, float]:
    """From the rise at full power, and what is lost meanwhile."""
    points = [(at_s, value_c) for at_s, value_c in record.points(WARM_UP, least=FULL_FRACTION) if at_s >= LAYERS_S]
    if len(points) < LEAST_POINTS:
        raise ValueError("it was not at full power for long enough: more water, or colder")
    slope, heat = slope_of(points), record.heat_j_per_k
    mean_c = fsum(value_c for _, value_c in points) / len(points)
    loss, loss_spread = _lost(record)
    over_c = mean_c - record.told.room_c
    lost_w = (loss * over_c) + evaporation_w(surface_m2(record.kettle), mean_c, record.told.room_c, lid_on=True)
    power_w = slope.value * heat + lost_w
    return power_w, hypot(slope.spread * heat, LITRES_SPREAD * slope.value * heat, loss_spread * over_c)


def _lost(record: Record) -> tuple[float, float]:
    try:
        return _loss_w_per_k(record)
    except ValueError:
        return record.kettle.loss_w_per_k, 0.5 * record.kettle.loss_w_per_k


def _boil_off(record: Record) -> tuple[float, float]:
    """What the file's figure comes to, once heater and losses are written as they were found.

    The boil was held at what the file's figures ask of the heater, so the litres that are gone say by themselves only
    how wrong those are. They are held against what that share of the heater as found must boil off.
    """
    gone_l_per_h, gone_spread = _gone_l_per_h(record)
    try:
        heater_w, heater_spread_w = _heater_w(record)
    except ValueError:
        raise ValueError("it says something only beside the heater's power: measure that on the same day") from None
    loss, loss_spread = _lost(record)
    over_c, share = record.told.boil_c - record.told.room_c, record.boiling_fraction
    vapour_w = share * heater_w - loss * over_c
    if vapour_w <= 0.0:
        raise ValueError("by heater and losses as found it cannot have boiled: measure both again")
    figure = record.kettle.boil_off_l_per_h * gone_l_per_h * BOIL_OFF_W_PER_L_H / vapour_w
    doubts = (
        gone_spread / gone_l_per_h,
        share * heater_spread_w / vapour_w,
        loss_spread * over_c / vapour_w,
        SHARE_SPREAD * heater_w / vapour_w,
    )
    return figure, figure * hypot(*doubts)


def _gone_l_per_h(record: Record) -> tuple[float, float]:
    """Litres poured in, less those that rose on the way and those that are left, over the time of the boil."""
    hours = record.boiled_s / S_PER_H
    rose_l = climb_vapour_l(record.kettle, Day(room_c=record.told.room_c))
    gone_l = record.poured_l - rose_l - record.after_boil_l
    if gone_l <= 0.0:
        raise ValueError(f"{record.after_boil_l:g} L after the boil are no less than there were before it")
    return gone_l / hours, hypot(SCALE_SPREAD_L, LITRES_SPREAD * record.poured_l) / hours


def _dead_space(record: Record) -> tuple[float, float]:
    left_l = record.left_l
    if not 0.0 <= left_l <= MOST_LEFT_FRACTION * record.poured_l:
        raise ValueError(f"{left_l:g} L is not what draining leaves")
    return left_l, JUG_SPREAD_L + LITRES_SPREAD * left_l


ROWS = (
    _Row(Part.HEATER, "heater_w", "W", _heater_w, most_spread=0.06, within=(0.6, 1.4)),
    _Row(Part.LOSSES, "loss_w_per_k", "W/K", _loss_w_per_k, most_spread=0.3, within=(0.3, 3.0)),
    _Row(Part.BOIL_OFF, "boil_off_l_per_h", "L/h", _boil_off, most_spread=0.3, within=(0.7, 1.3), written=False),
    _Row(Part.DEAD_SPACE, "dead_space_l", "L", _dead_space, most_spread=1.0, within=(0.0, 20.0)),
)
"""Figures of `[kettle]`."""


def _found(row: _Row, record: Record) -> Finding | None:
    now: float = getattr(record.kettle, row.key)
    blank = Finding(part=row.part, key=row.key, unit=row.unit, now=now, found=None, written=row.written)
    try:
        value, spread = row.of(record)
    except Unmeasured:
        return None
    except ValueError as error:
        return replace(blank, refused=str(error))
    refused = None
    if spread > row.most_spread * abs(value):
        refused = f"it is known to ±{spread:.2g} {row.unit} only: measure again, for longer"
    elif now and not row.within[0] <= value / now <= row.within[1]:
        refused = "it has nothing to do with the file: is the file right, were the litres?"
    return replace(blank, found=value, spread=spread, refused=refused)
