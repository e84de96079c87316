"""What people use instead: a thermostat, and simple_pid with gains that are often picked by hand."""

from __future__ import annotations

from collections.abc import Callable

from simple_pid import PID

from kettlebridge.core.relay_window import CLOSED, SPARING, switch
from kettlebridge.simulated.family.course import PERIOD_S, Seen

HYSTERESIS_C = 1.0

HAND_PICKED: dict[str, tuple[float, float, float]] = {
    "pid_a": (10.0, 0.1, 0.0),
    "pid_b": (50.0, 0.1, 0.0),
}
"""Kp (% per °C), Ki (% per °C and second), Kd: usual starting values (common practice, from memory, no source)."""


class Thermostat:
    """On below the target, off above; half the hysteresis on either side."""

    def __init__(self) -> None:
        self._on = False

    def permille(self, seen: Seen) -> int:
        """Fully on or off."""
        target_c = seen.wish.target_c
        if target_c is None:
            self._on = False
        elif abs(seen.reading_c - target_c) >= HYSTERESIS_C / 2.0:
            self._on = seen.reading_c < target_c
        return 1000 if self._on else 0


class HandPicked:
    """simple_pid as its own examples run it: sampled once a second, output 0-100 %, integral clamped to that."""

    def __init__(self, gains: tuple[float, float, float]) -> None:
        self._pid = PID(*gains, sample_time=None, output_limits=(0.0, 100.0), time_fn=lambda: 0.0)
        self._window = CLOSED
        self._heating = False

    def permille(self, seen: Seen) -> int:
        """The PID's output through the same relay window as everybody's."""
        target_c = seen.wish.target_c
        duty_fraction = 0.0
        if target_c is not None:
            if not self._heating:
                self._pid.reset()
            self._pid.setpoint = target_c
            duty_fraction = (self._pid(seen.reading_c, PERIOD_S) or 0.0) / 100.0
        self._heating = target_c is not None
        pulses = SPARING[seen.member.kettle.drive]
        self._window, permille = switch(self._window, duty_fraction, pulses, seen.now_s, PERIOD_S)
        return permille


def hand_picked(name: str) -> Callable[[], HandPicked]:
    """Makes the regulator of that name."""
    return lambda: HandPicked(HAND_PICKED[name])
