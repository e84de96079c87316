"""The regulator: simple_pid's PI, tuned by Skogestad's rule from the kettle's figures.

The kettle is a lag with dead time: a rise of `a` °C/s at full power after `theta` s. With the closed loop as quick
as the dead time, SIMC (Skogestad, J. Process Control 13 (2003) 291) gives Kc = 1/(2 a theta) and
tau_I = min(tau_1, 8 theta). Losses are fed forward; the integral only learns what the feed leaves out, and only
near the set-point and while the output is free (a heater cannot cool: conditional integration). Where it stays away
from the set-point for a whole reset time though the output is free, the feed leaves out more than expected: then it
learns there too.
"""

from __future__ import annotations

from typing import NamedTuple

from simple_pid import PID

SETTLING_TIMES_THETA = 8.0
NEAR_FRACTION = 0.25
"""The integral learns only while the proportional part is within a quarter of full duty: on the way up it waits."""


class Tuning(NamedTuple):
    """`gain_per_c` duty per °C of error, `integral_s` its reset time."""

    gain_per_c: float
    integral_s: float


class Regulation(NamedTuple):
    """`integral_fraction` of duty is what the loop has learnt beyond the feed; `away_s` it was free but not near."""

    integral_fraction: float = 0.0
    away_s: float = 0.0


AT_REST = Regulation()


def simc(rise_c_per_s: float, theta_s: float, lag_s: float | None = None) -> Tuning:
    """SIMC for a rise of `rise_c_per_s` at full duty, dead time `theta_s`; `lag_s` None: integrating."""
    slow_s = SETTLING_TIMES_THETA * theta_s
    return Tuning(
        gain_per_c=1.0 / (2.0 * rise_c_per_s * theta_s),
        integral_s=slow_s if lag_s is None else min(lag_s, slow_s),
    )


def _no_clock() -> float:
    return 0.0


class Loop(NamedTuple):
    """Where the loop stands. `feed_fraction` is the duty that losses take, fed forward; `dt_s` since the last tick.

    `ceiling_fraction` is all the duty that may be given now: beyond it the output is not free and nothing is learnt.
    """

    target_c: float
    measured_c: float
    feed_fraction: float
    dt_s: float
    ceiling_fraction: float = 1.0


def regulate(regulation: Regulation, tuning: Tuning, loop: Loop) -> tuple[Regulation, float]:
    """The next integral and the duty. The PID is made afresh from the kept integral: that is pure."""
    kept = regulation.integral_fraction
    pid = PID(
        tuning.gain_per_c,
        tuning.gain_per_c / tuning.integral_s,
        0.0,
        setpoint=loop.target_c,
        sample_time=None,
        output_limits=(-loop.feed_fraction, loop.ceiling_fraction - loop.feed_fraction),
        starting_output=kept,
        time_fn=_no_clock,
    )
    duty_fraction = loop.feed_fraction + (pid(loop.measured_c, loop.dt_s) or 0.0)
    proportional, integral, _ = pid.components
    if not 0.0 < duty_fraction < loop.ceiling_fraction:
        regulation = Regulation(kept)
    elif abs(proportional) <= NEAR_FRACTION:
        regulation = Regulation(integral)
    else:
        away_s = min(regulation.away_s + loop.dt_s, tuning.integral_s)
        regulation = Regulation(integral if away_s >= tuning.integral_s else kept, away_s)
    return regulation, min(max(duty_fraction, 0.0), loop.ceiling_fraction)
