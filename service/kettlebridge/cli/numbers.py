"""Numbers within bounds, as argparse reads them."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from math import isfinite, nan


def finite(text: str) -> float:
    """Any number but what is none; the rest is judged where it goes."""
    try:
        value = float(text)
    except ValueError:
        value = nan
    if not isfinite(value):
        raise argparse.ArgumentTypeError(f"{text} is not a number")
    return value


def number(low: float, high: float) -> Callable[[str], float]:
    """What reads a number from `low` to `high`; anything else is a usage error."""

    def read(text: str) -> float:
        try:
            value = float(text)
        except ValueError:
            value = nan
        if not low <= value <= high:
            raise argparse.ArgumentTypeError(f"{text} is not a number from {low:g} to {high:g}")
        return value

    return read
