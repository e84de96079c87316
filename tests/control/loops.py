"""The open loop of a controller and a plant, its delay exact, and its margins: python-control's frequency responses."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, NamedTuple

import control
import numpy as np

OMEGA = np.logspace(-3.0, 2.5, 100_001)


class Margins(NamedTuple):
    """The peak of the sensitivity, the gain margin as a factor, the phase margin in degrees."""

    ms: float
    gm: float
    pm_deg: float


def product(*factors: Sequence[float]) -> tuple[float, ...]:
    """Of polynomials, highest power first."""
    whole = np.array([1.0])
    for factor in factors:
        whole = np.polymul(whole, factor)
    return tuple(whole)


def pid(gain: float, integral: float, derivative: float = 0.0, *, filtered: float | None = None) -> Any:
    """K (1 + 1/(Ti s) + Td s), or with the derivative filtered by a lag of `filtered`."""
    s = control.tf("s")
    slope = derivative * s if filtered is None else derivative * s / (1.0 + filtered * s)
    return gain * (1.0 + 1.0 / (integral * s) + slope)


def open_loop(controller: Any, plant: Any, delay: float, omega: Any = OMEGA) -> Any:
    """The loop's response over `omega`."""
    return np.asarray((controller * plant)(1j * omega)) * np.exp(-1j * omega * delay)


def margins(loop: Any) -> Margins:
    """Of a response over OMEGA that begins above 1; a phase that never turns over has no end of gain."""
    magnitude, phase = np.abs(loop), np.unwrap(np.angle(loop))
    crossed = np.flatnonzero((magnitude[:-1] > 1.0) & (magnitude[1:] <= 1.0))
    turned = np.flatnonzero((phase[:-1] > -math.pi) & (phase[1:] <= -math.pi))
    return Margins(
        ms=float(np.max(np.abs(1.0 / (1.0 + loop)))),
        gm=float(1.0 / magnitude[turned[0]]) if len(turned) else math.inf,
        pm_deg=180.0 + math.degrees(phase[crossed[0]]),
    )
