"""What a heat-up at full power teaches: rate, loss, delay, stratification. Pure; nothing here switches anything.

While the heater is fully on, from a liquid that stood still at y0, with I the integral of (y - ambient) dt:

    y - y0 = a t - q - b I            once the lag has passed: Bayesian least squares for a, q, b
    y - y0 + b I = a ramp(t) + k step(t)   ramp and step seen through two equal lags tau: the least squares over tau,
                                           in the first minutes, and only from a start that stood still

Only a = power/capacity and b = loss/capacity can be seen from this, never power alone; and only the second form tells
lag and stratification apart: both merely delay a ramp. What does not fit leaves the prior as it was, and says so.
"""

from __future__ import annotations

import math
from enum import Enum
from typing import NamedTuple

from kettlebridge.core.known import Known
from kettlebridge.core.observer import READING_VARIANCE

FULL_FRACTION = 0.99
STILL_READINGS = 5
MOST_STILL_READINGS = 30
STILL_C = 0.3
POINT_S = 10.0
LINEAR_FROM_S = 75.0
LAG_UNTIL_S = 420.0
LAG_RATE_SPREAD = 0.03
MOVING_INTERCEPT_SPREAD_C = 5.0
"""What the first reading says of a start that did not stand still."""
FIT_AT_S = (180.0, 300.0, 420.0, 600.0, 900.0, 1200.0)
LAST_S = FIT_AT_S[-1]
TAUS_S = tuple(float(tau_s) for tau_s in range(3, 41))
POINT_VARIANCE = READING_VARIANCE * 0.6
"""Of a mean over POINT_S readings: a tenth of one reading's, six times as much for what the model leaves out."""
LAG_POINT_VARIANCE = 0.01
"""In the first minutes two equal lags leave more out: element, wall and currents each have a lag of their own."""
INTERCEPT_SPREAD_PER_RATE_S = 24.0
INTERCEPT_PER_RATE_S = 30.0
INTERCEPT_SPREAD_C = 0.3
SHORTEST_DELAY_S, LONGEST_DELAY_S = 8.0, 90.0
LEAST_RATE, MOST_RATE = 0.5, 1.6
MOST_SCATTER_C = 0.06
"""About the straight part; 0.02 where nothing happens, twice the noise included."""
MOST_LAG_SCATTER_C = 0.3
LEAST_LOSS_FRACTION, MOST_LOSS_FRACTION = 0.3, 3.0


class Verdict(Enum):
    """What became of a fit."""

    FITS = "fits"
    RATE = "rate"
    """The rise has nothing to do with the figures of file and ledger."""
    SCATTER = "scatter"
    """The readings follow no heat-up: a probe that hangs in the air, water poured in, a boil."""


class Point(NamedTuple):
    """A mean over POINT_S: `t_s` since full power, `rise_c` above the start, `exposure_c_s` the integral I."""

    t_s: float
    rise_c: float
    exposure_c_s: float


class HeatUp(NamedTuple):
    """A heat-up as far as it has been watched. `begun_s` None: not heating, the start is being averaged.

    `sum_c` over `gathered` readings makes the next point, `exposure_before_c_s` is the integral at its begin. `still`:
    the liquid stood still at `start_c`, so that lag and stratification can be told.
    """

    start_c: float = 0.0
    readings: int = 0
    begun_s: float | None = None
    sum_c: float = 0.0
    gathered: int = 0
    exposure_c_s: float = 0.0
    exposure_before_c_s: float = 0.0
    points: tuple[Point, ...] = ()
    fits: int = 0
    over: bool = False

    @property
    def still(self) -> bool:
        """Whether the start stood still."""
        return self.readings >= STILL_READINGS


NO_HEAT_UP = HeatUp()


class Watch(NamedTuple):
    """One second: what was read, and what the heater did."""

    reading_c: float
    applied_fraction: float
    ambient_c: float
    now_s: float
    dt_s: float


def watched(h: HeatUp, w: Watch) -> HeatUp:
    """The heat-up after one more second. Anything but full power ends it; the heater off begins the next."""
    if h.begun_s is None:
        return _waited(h, w)
    if h.over:
        return NO_HEAT_UP if w.applied_fraction == 0.0 else h
    age_s = w.now_s - h.begun_s
    if w.applied_fraction < FULL_FRACTION or age_s > LAST_S + POINT_S:
        return h._replace(over=True)
    exposure_c_s = h.exposure_c_s + (w.reading_c - w.ambient_c) * w.dt_s
    sum_c, gathered, points, before_c_s = h.sum_c + w.reading_c, h.gathered + 1, h.points, h.exposure_before_c_s
    if age_s >= POINT_S * (len(points) + 1):
        middle = Point(age_s - 0.5 * POINT_S, sum_c / gathered - h.start_c, 0.5 * (exposure_c_s + before_c_s))
        points, sum_c, gathered, before_c_s = (*points, middle), 0.0, 0, exposure_c_s
    return HeatUp(h.start_c, h.readings, h.begun_s, sum_c, gathered, exposure_c_s, before_c_s, points, h.fits)


def _waited(h: HeatUp, w: Watch) -> HeatUp:
    """Before it begins: the mean of readings that stand still."""
    if w.applied_fraction >= FULL_FRACTION:
        start_c = h.start_c if h.still else w.reading_c
        exposure_c_s = (w.reading_c - w.ambient_c) * w.dt_s
        return HeatUp(start_c, h.readings, w.now_s - w.dt_s, w.reading_c, 1, exposure_c_s)
    if w.applied_fraction > 0.0:
        return NO_HEAT_UP
    if h.readings and abs(w.reading_c - h.start_c) <= STILL_C:
        readings = min(h.readings + 1, MOST_STILL_READINGS)
        return HeatUp(h.start_c + (w.reading_c - h.start_c) / readings, readings)
    return HeatUp(w.reading_c, 1)


def fit_due(h: HeatUp) -> bool:
    """Whether enough was seen for the next fit of one that goes on."""
    if h.begun_s is None or h.over or h.fits >= len(FIT_AT_S):
        return False
    return len(h.points) * POINT_S >= FIT_AT_S[h.fits]


class Promise(NamedTuple):
    """What file and ledger promise of this heat-up: the rise at full power, and the power it rests on."""

    rate_c_per_s: float
    heater_w: float


class Line(NamedTuple):
    """The straight part: rate, loss and their spreads, and the readings' scatter about it."""

    rate_c_per_s: float
    loss_per_s: float
    rate_spread_c_per_s: float
    loss_spread_per_s: float
    scatter_c: float


class Lag(NamedTuple):
    """The first minutes."""

    delay_s: float
    delay_spread_s: float
    lift_c: float
    lift_spread_c: float
    scatter_c: float


def fitted(h: HeatUp, prior: Known, latest: Known, promise: Promise) -> tuple[Known, Verdict]:
    """What is known after the fit: `latest` with what it tells; the prior, and why, where nothing fits."""
    line = _line(h, prior, promise)
    if not LEAST_RATE < line.rate_c_per_s / promise.rate_c_per_s < MOST_RATE:
        return prior, Verdict.RATE
    if line.scatter_c > MOST_SCATTER_C:
        return prior, Verdict.SCATTER
    known = latest
    if h.still and len(h.points) * POINT_S <= LAG_UNTIL_S:
        lag = _lag(h.points, line, prior)
        if lag.scatter_c > MOST_LAG_SCATTER_C:
            return prior, Verdict.SCATTER
        known = known._replace(
            delay_s=lag.delay_s,
            delay_spread_s=lag.delay_spread_s,
            lift_c=lag.lift_c,
            lift_spread_c=lag.lift_spread_c,
        )
    per_rate = promise.heater_w / promise.rate_c_per_s
    known = known._replace(
        rate_fraction=line.rate_c_per_s / promise.rate_c_per_s,
        rate_spread=line.rate_spread_c_per_s / promise.rate_c_per_s,
        loss_w_per_k=line.loss_per_s * per_rate,
        loss_spread_w_per_k=line.loss_spread_per_s * per_rate,
    )
    return known, Verdict.FITS


def _line(h: HeatUp, prior: Known, promise: Promise) -> Line:
    """Rate and loss from the part of the rise that the lag has left behind."""
    per_watt = promise.rate_c_per_s / promise.heater_w
    a0, b0 = promise.rate_c_per_s * prior.rate_fraction, prior.loss_w_per_k * per_watt
    q0 = INTERCEPT_PER_RATE_S * a0
    q_spread_c = INTERCEPT_SPREAD_PER_RATE_S * a0 + (INTERCEPT_SPREAD_C if h.still else MOVING_INTERCEPT_SPREAD_C)
    n00 = 1.0 / (prior.rate_spread * promise.rate_c_per_s) ** 2
    n11 = 1.0 / q_spread_c**2
    n22 = 1.0 / (prior.loss_spread_w_per_k * per_watt) ** 2
    n01 = n02 = n12 = 0.0
    r0, r1, r2 = n00 * a0, n11 * q0, n22 * b0
    weight = 1.0 / POINT_VARIANCE
    straight = [point for point in h.points if point.t_s >= LINEAR_FROM_S]
    for t_s, rise_c, exposure_c_s in straight:
        n00 += weight * t_s * t_s
        n01 -= weight * t_s
        n02 -= weight * t_s * exposure_c_s
        n11 += weight
        n12 += weight * exposure_c_s
        n22 += weight * exposure_c_s * exposure_c_s
        r0 += weight * t_s * rise_c
        r1 -= weight * rise_c
        r2 -= weight * exposure_c_s * rise_c
    c00, c01, c02 = n11 * n22 - n12 * n12, n02 * n12 - n01 * n22, n01 * n12 - n02 * n11
    c11, c12, c22 = n00 * n22 - n02 * n02, n01 * n02 - n00 * n12, n00 * n11 - n01 * n01
    inverse = 1.0 / (n00 * c00 + n01 * c01 + n02 * c02)
    a = (c00 * r0 + c01 * r1 + c02 * r2) * inverse
    q = (c01 * r0 + c11 * r1 + c12 * r2) * inverse
    b = (c02 * r0 + c12 * r1 + c22 * r2) * inverse
    off = math.fsum((rise_c - a * t_s + q + b * exposure_c_s) ** 2 for t_s, rise_c, exposure_c_s in straight)
    return Line(
        rate_c_per_s=a,
        loss_per_s=min(max(b, LEAST_LOSS_FRACTION * b0), MOST_LOSS_FRACTION * b0),
        rate_spread_c_per_s=math.sqrt(c00 * inverse),
        loss_spread_per_s=math.sqrt(c22 * inverse),
        scatter_c=math.sqrt(off / len(straight)),
    )


def _lag(points: tuple[Point, ...], line: Line, prior: Known) -> Lag:
    """The two equal lags that explain the first minutes best; rate and lift are solved for at each."""
    fits = [_at(points, line, prior, tau_s) for tau_s in TAUS_S]
    costs = [fit[0] for fit in fits]
    place = costs.index(min(costs))
    cost, lift_c, lift_spread_c = fits[place]
    bend = costs[place - 1] - 2.0 * cost + costs[place + 1] if 0 < place < len(TAUS_S) - 1 else 0.0
    spread_s = 2.0 * math.sqrt(2.0 * LAG_POINT_VARIANCE / bend) if bend > 0.0 else prior.delay_spread_s
    return Lag(
        delay_s=min(max(2.0 * TAUS_S[place], SHORTEST_DELAY_S), LONGEST_DELAY_S),
        delay_spread_s=min(spread_s, prior.delay_spread_s),
        lift_c=lift_c,
        lift_spread_c=lift_spread_c,
        scatter_c=math.sqrt(max(cost, 0.0) / len(points)),
    )


def _at(points: tuple[Point, ...], line: Line, prior: Known, tau_s: float) -> tuple[float, float, float]:
    """At one tau: the cost (°C²), and the lift with its spread."""
    a, b = line.rate_c_per_s, line.loss_per_s
    rr = LAG_POINT_VARIANCE / (LAG_RATE_SPREAD * a) ** 2
    ss = LAG_POINT_VARIANCE / prior.lift_spread_c**2
    rs, ry, sy, yy = 0.0, 0.0, ss * prior.lift_c, ss * prior.lift_c**2
    for t_s, rise_c, exposure_c_s in points:
        fading = math.exp(-t_s / tau_s)
        ramp = t_s - 2.0 * tau_s + (t_s + 2.0 * tau_s) * fading
        step = 1.0 - (1.0 + t_s / tau_s) * fading
        rest_c = rise_c + b * exposure_c_s - a * ramp
        rr += ramp * ramp
        rs += ramp * step
        ss += step * step
        ry += ramp * rest_c
        sy += step * rest_c
        yy += rest_c * rest_c
    inverse = 1.0 / (rr * ss - rs * rs)
    more, lift_c = (ss * ry - rs * sy) * inverse, (rr * sy - rs * ry) * inverse
    off = (2.0 * tau_s - prior.delay_s) / prior.delay_spread_s
    cost = yy - more * ry - lift_c * sy + LAG_POINT_VARIANCE * off * off
    return cost, lift_c, math.sqrt(LAG_POINT_VARIANCE * rr * inverse)
