"""How near a kettle is to boiling over, by rules of the trade. Pure; no number here was measured on foam.

Foam stands in the head-space: a fifth of the kettle is the usual advice. It comes with steam, so with power; with a
fast approach, which leaves no time; before the hot break has fallen; and with every addition, which sets gas free.
Each rule gives points, and points make low, raised or high (weights: common practice and judgement, no source).
"""

from __future__ import annotations

from enum import Enum
from typing import NamedTuple

HOT_VOLUME = 1.04
"""A litre at 20 °C at the boil (IAPWS-95: 998.2/958.4)."""
EXPECTED_WITHIN_C = 6.0
"""So far under the boil there is no risk to speak of."""
HEAD_POINTS = ((0.10, 3), (0.20, 2), (0.30, 1))
"""Head-space below this share of the kettle."""
POWER_POINTS = ((400.0, 2), (200.0, 1))
"""Watts for each litre of head-space, from this on."""
FAST_C_PER_MIN = 1.0
HOT_BREAK_S = 7 * 60.0
"""From the boil on, until the foam of its proteins has fallen back (common practice, no source)."""
ADDED_S = 120.0
RAISED_FROM, HIGH_FROM = 2, 4


class Risk(Enum):
    """Of boiling over."""

    LOW = "low"
    RAISED = "raised"
    HIGH = "high"


class Pot(NamedTuple):
    """What bears on it. Volumes in litres at 20 °C, `under_c` below the boil, `boiled_s` since it began to boil.

    `rise_c_per_min` is zero at the boil; `added_s` ago something went in, None if nothing did.
    """

    capacity_l: float
    volume_l: float
    power_w: float
    under_c: float
    rise_c_per_min: float
    boiled_s: float
    added_s: float | None


def head_l(capacity_l: float, volume_l: float) -> float:
    """Head-space over the hot wort; never quite nothing."""
    return max(capacity_l - HOT_VOLUME * volume_l, 0.01 * capacity_l)


def points(pot: Pot) -> int:
    """The sum of the rules."""
    head = head_l(pot.capacity_l, pot.volume_l)
    total = next((worth for share, worth in HEAD_POINTS if head < share * pot.capacity_l), 0)
    total += next((worth for watts, worth in POWER_POINTS if pot.power_w >= watts * head), 0)
    total += pot.rise_c_per_min >= FAST_C_PER_MIN
    total += pot.boiled_s < HOT_BREAK_S
    total += pot.added_s is not None and pot.added_s < ADDED_S
    return total


def risk(pot: Pot) -> Risk:
    """Low far from the boil or without heat; else by points."""
    if pot.under_c > EXPECTED_WITHIN_C or pot.power_w <= 0.0:
        return Risk.LOW
    total = points(pot)
    if total >= HIGH_FROM:
        return Risk.HIGH
    return Risk.RAISED if total >= RAISED_FROM else Risk.LOW
