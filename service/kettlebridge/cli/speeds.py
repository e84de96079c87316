"""`--speed N`: how many times faster than life."""

from __future__ import annotations

import argparse
import math

UNLIMITED = "max"
AS_FAST_AS_IT_GOES = math.inf


def add_speed(parser: argparse.ArgumentParser, *, default: float | None, help_words: str) -> None:
    """`--speed N`; infinite for as fast as it goes."""
    parser.add_argument(
        "--speed", type=speed, default=default, metavar="N", help=f'{help_words}; a number, or "{UNLIMITED}"'
    )


def speed(text: str) -> float:
    """A positive number. Raises ArgumentTypeError."""
    try:
        number = AS_FAST_AS_IT_GOES if text == UNLIMITED else float(text)
    except ValueError:
        number = math.nan
    if not number > 0.0 or (math.isinf(number) and text != UNLIMITED):
        raise argparse.ArgumentTypeError(f'{text} is no speed: a number above 0, or "{UNLIMITED}"')
    return number


def limit(number: float) -> float | None:
    """As the paced clock has it: None is no limit."""
    return None if math.isinf(number) else number
