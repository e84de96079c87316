"""Kettles of the family by their number: the same one every time."""

from __future__ import annotations

import random

from kettlesim.family import drawn_body
from kettlesim.plant.body import Body


def numbered_body(number: int) -> Body:
    return drawn_body(random.Random(number))  # noqa: S311
