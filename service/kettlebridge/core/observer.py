"""Where the heat is: a Kalman filter of five states behind one slow, noisy probe, in plain floats.

The law, with u the heater's share of full power and two equal lags between liquid and reading:

    zone'  = heat u - zone_out zone + zone_in upper + zone_feed + drift
    upper' = upper_in zone - upper_out upper + upper_feed - upper_drift drift
    drift' = - drift_out drift
    lag1'  = (zone - lag1) / tau,  lag2' = (lag1 - lag2) / tau,  reading = lag2 + lift u_lagged

Without a bed, `zone` is all of the liquid and `upper` nothing. In a mash, `zone` is what lies under the basket and
`upper` the rest: the two exchange heat, at a rate of which only the pump's plate tells; `drift` is then what they
exchange beyond that, and what the one gets the other gives.
One step is one explicit Euler step of at most LONGEST_S.
"""

from __future__ import annotations

from typing import NamedTuple

READING_VARIANCE = 0.0028
"""DS18B20: noise of 0.05 °C (one sigma) and steps of 0.0625 °C."""
LONGEST_S = 2.0
MOST_STEPS = 5
JUMP_C = 0.8
JUMP_SIGMAS = 5.0
JUMPS_TO_BELIEVE = 6
SHAKEN_SPREAD_C = 2.0
MOST_SURPRISE_C = 3.0
"""One reading moves nothing further than that would: more is a fault, or comes again."""
FEW_VARIANCE = 1e-12
LAG_VARIANCE = 0.01
APART_C = 0.3
LIFT_DOUBT = 0.4
LAG_DOUBT = 0.125


class Model(NamedTuple):
    """The coefficients of the law, per second, and what each state may wander (variance per second).

    `drift_wander` grows by `flow_wander` times the square of zone less upper, and by `gain_wander` times that of the
    heater's share. `drift_least` and `drift_most`, °C/s.
    """

    heat_c_per_s: float
    zone_out: float
    zone_in: float
    zone_feed: float
    upper_in: float
    upper_out: float
    upper_feed: float
    upper_drift: float
    drift_out: float
    tau_s: float
    lift_c: float
    zone_wander: float
    upper_wander: float
    drift_wander: float
    flow_wander: float
    gain_wander: float
    lag_wander: float
    drift_least: float
    drift_most: float


Covariance = tuple[
    float, float, float, float, float, float, float, float, float, float, float, float, float, float, float
]
"""The upper triangle, row by row: zone, upper, drift, lag1, lag2."""


class Estimate(NamedTuple):
    """The five states, their covariance, the heater's share through the same two lags, and readings that surprise."""

    zone_c: float
    upper_c: float
    drift_c_per_s: float
    lag1_c: float
    lag2_c: float
    covariance: Covariance
    u1: float
    u2: float
    jumps: int = 0


def begun(reading_c: float, spread_c: float, drift_spread: float) -> Estimate:
    """Everything at the reading, which may still be on its way: zone and upper are alike, and both unsure."""
    v, w = spread_c * spread_c, drift_spread * drift_spread
    alike = v - 0.5 * APART_C * APART_C
    covariance = (v, alike, 0.0, 0.0, 0.0, v, 0.0, 0.0, 0.0, w, 0.0, 0.0, 0.25 * v, 0.0, LAG_VARIANCE)
    return Estimate(reading_c, reading_c, 0.0, reading_c, reading_c, covariance, 0.0, 0.0)


def predicted(e: Estimate, m: Model, u: float, dt_s: float) -> Estimate:
    """The estimate `dt_s` later with the heater at `u` meanwhile; longer absences than MOST_STEPS steps are cut."""
    while dt_s > LONGEST_S:
        e = _stepped(e, m, u, LONGEST_S)
        dt_s = min(dt_s - LONGEST_S, LONGEST_S * (MOST_STEPS - 1))
    return _stepped(e, m, u, dt_s) if dt_s > 0.0 else e


def _stepped(e: Estimate, m: Model, u: float, h: float) -> Estimate:
    """One Euler step: x = F x + g, P = F P F' + Q, written out."""
    zone, upper, drift, lag1, lag2, covariance, u1, u2, jumps = e
    p00, p01, p02, p03, p04, p11, p12, p13, p14, p22, p23, p24, p33, p34, p44 = covariance
    (
        heat,
        zone_out,
        zone_in,
        zone_feed,
        upper_in,
        upper_out,
        upper_feed,
        upper_drift,
        drift_out,
        tau_s,
        _,
        zone_wander,
        upper_wander,
        drift_wander,
        flow_wander,
        gain_wander,
        lag_wander,
        _,
        _,
    ) = m
    lag = h / tau_s
    stay = 1.0 - lag
    zz, zu = 1.0 - h * zone_out, h * zone_in
    uz, uu, ud = h * upper_in, 1.0 - h * upper_out, -h * upper_drift
    dd = 1.0 - h * drift_out
    # F P by rows, as far as it is needed.
    a00, a01, a02 = zz * p00 + zu * p01 + h * p02, zz * p01 + zu * p11 + h * p12, zz * p02 + zu * p12 + h * p22
    a03, a04 = zz * p03 + zu * p13 + h * p23, zz * p04 + zu * p14 + h * p24
    a10, a11, a12 = uz * p00 + uu * p01 + ud * p02, uz * p01 + uu * p11 + ud * p12, uz * p02 + uu * p12 + ud * p22
    a13, a14 = uz * p03 + uu * p13 + ud * p23, uz * p04 + uu * p14 + ud * p24
    a33, a34 = lag * p03 + stay * p33, lag * p04 + stay * p34
    gap = zone - upper
    covariance = (
        a00 * zz + a01 * zu + a02 * h + h * zone_wander,
        a00 * uz + a01 * uu + a02 * ud,
        a02 * dd,
        a00 * lag + a03 * stay,
        a03 * lag + a04 * stay,
        a10 * uz + a11 * uu + a12 * ud + h * upper_wander,
        a12 * dd,
        a10 * lag + a13 * stay,
        a13 * lag + a14 * stay,
        p22 * dd * dd + h * (drift_wander + flow_wander * gap * gap + gain_wander * u * u),
        (p02 * lag + p23 * stay) * dd,
        (p23 * lag + p24 * stay) * dd,
        (lag * p00 + stay * p03) * lag + a33 * stay + h * lag_wander,
        a33 * lag + a34 * stay,
        (lag * p33 + stay * p34) * lag + (lag * p34 + stay * p44) * stay + h * lag_wander,
    )
    return Estimate(
        zz * zone + zu * upper + h * (heat * u + zone_feed + drift),
        uz * zone + uu * upper + ud * drift + h * upper_feed,
        dd * drift,
        lag * zone + stay * lag1,
        lag * lag1 + stay * lag2,
        covariance,
        u1 + lag * (u - u1),
        u2 + lag * (u1 - u2),
        jumps,
    )


def corrected(e: Estimate, m: Model, u: float, reading_c: float) -> Estimate:
    """The estimate once it has been told a reading.

    While the heater's change has not reached the probe, lift and lag are the least certain: readings count for less.
    A reading that stays far off, six times running, is believed: somebody poured something in.
    """
    zone_c, upper_c, drift, lag1_c, lag2_c, covariance, u1, u2, jumps_before = e
    _, _, _, _, p04, _, _, _, p14, _, _, p24, _, p34, p44 = covariance
    late = u - u2
    lift_doubt_c = LIFT_DOUBT * m.lift_c * late
    lag_doubt_c = 2.0 * LAG_DOUBT * m.heat_c_per_s * m.tau_s * late
    spread = p44 + READING_VARIANCE + lift_doubt_c * lift_doubt_c + lag_doubt_c * lag_doubt_c
    surprise_c = reading_c - lag2_c - m.lift_c * u2
    jumps = 0
    if surprise_c * surprise_c > JUMP_C * JUMP_C and surprise_c * surprise_c > JUMP_SIGMAS * JUMP_SIGMAS * spread:
        jumps = jumps_before + 1
        if jumps >= JUMPS_TO_BELIEVE:
            return _shaken(e, surprise_c)
    surprise_c = min(max(surprise_c, -MOST_SURPRISE_C), MOST_SURPRISE_C)
    g0, g1, g2, g3, g4 = p04 / spread, p14 / spread, p24 / spread, p34 / spread, p44 / spread
    return Estimate(
        zone_c + g0 * surprise_c,
        upper_c + g1 * surprise_c,
        min(max(drift + g2 * surprise_c, m.drift_least), m.drift_most),
        lag1_c + g3 * surprise_c,
        lag2_c + g4 * surprise_c,
        _shrunk(covariance, (g0, g1, g2, g3, g4)),
        u1,
        u2,
        jumps,
    )


def _shrunk(p: Covariance, g: tuple[float, float, float, float, float]) -> Covariance:
    """P - g (H P); variances stay positive whatever rounding does."""
    p00, p01, p02, p03, p04, p11, p12, p13, p14, p22, p23, p24, p33, p34, p44 = p
    g0, g1, g2, g3, g4 = g
    few = FEW_VARIANCE
    q00, q11, q22, q33, q44 = p00 - g0 * p04, p11 - g1 * p14, p22 - g2 * p24, p33 - g3 * p34, p44 - g4 * p44
    return (
        q00 if q00 > few else few,
        p01 - g0 * p14,
        p02 - g0 * p24,
        p03 - g0 * p34,
        p04 - g0 * p44,
        q11 if q11 > few else few,
        p12 - g1 * p24,
        p13 - g1 * p34,
        p14 - g1 * p44,
        q22 if q22 > few else few,
        p23 - g2 * p34,
        p24 - g2 * p44,
        q33 if q33 > few else few,
        p34 - g3 * p44,
        q44 if q44 > few else few,
    )


def _shaken(e: Estimate, surprise_c: float) -> Estimate:
    """Everything moved to where the reading is, and hardly sure of it."""
    zone_c = e.zone_c + surprise_c
    fresh = begun(zone_c, SHAKEN_SPREAD_C, 0.0).covariance
    p = (*fresh[:9], e.covariance[9], *fresh[10:])
    return Estimate(zone_c, zone_c, e.drift_c_per_s, e.lag1_c + surprise_c, e.lag2_c + surprise_c, p, e.u1, e.u2)


def doubted(e: Estimate, zone_variance: float, drift_variance: float) -> Estimate:
    """The same estimate, less sure of zone and drift: the model has just changed under it."""
    p = e.covariance
    return e._replace(covariance=(p[0] + zone_variance, *p[1:9], p[9] + drift_variance, *p[10:]))
