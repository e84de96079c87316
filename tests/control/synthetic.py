"""Readings of a kettle that is exactly what identification assumes: rate, loss, two equal lags and a lift."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass

from kettlebridge.core.identify import NO_HEAT_UP, HeatUp, Watch, watched

AMBIENT_C = 20.0


@dataclass(frozen=True, kw_only=True)
class Synthetic:
    """`a` °C/s at full power, `b` 1/s, delay and lift; noise and steps like a DS18B20's."""

    a: float = 0.03
    b: float = 1e-4
    delay_s: float = 30.0
    lift_c: float = 0.6
    start_c: float = 12.0
    seed: int = 1

    def readings(self, seconds: int, still_s: int = 30) -> Iterator[Watch]:
        """`still_s` with the heater off, then full power."""
        rng = random.Random(self.seed)  # noqa: S311  # noise, not secrets
        tau_s = self.delay_s / 2.0
        liquid_c = lag1 = lag2 = self.start_c
        u1 = u2 = 0.0
        for second in range(seconds + still_s):
            u = 0.0 if second < still_s else 1.0
            for _ in range(10):
                liquid_c += 0.1 * (self.a * u - self.b * (liquid_c - AMBIENT_C) * u)
                lag1 += 0.1 / tau_s * (liquid_c - lag1)
                lag2 += 0.1 / tau_s * (lag1 - lag2)
                u1 += 0.1 / tau_s * (u - u1)
                u2 += 0.1 / tau_s * (u1 - u2)
            reading_c = round((lag2 + self.lift_c * u2 + rng.gauss(0.0, 0.05)) / 0.0625) * 0.0625
            yield Watch(reading_c, u, AMBIENT_C, float(second + 1), 1.0)


def heat_up(kettle: Synthetic, seconds: int) -> HeatUp:
    """The heat-up as watched, at the end of those seconds."""
    watch = NO_HEAT_UP
    for second in kettle.readings(seconds):
        watch = watched(watch, second)
    return watch
