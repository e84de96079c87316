"""A beer is ready on two equal gravities days apart, never on a date."""

from __future__ import annotations

import pytest

from kettlebridge.brewing.fermentation import Ferment, standing
from kettlebridge.documents.ferment_words import FERMENT_WORDS
from kettlebridge.model.fermentation import FermentReading
from kettlebridge.model.units import S_PER_DAY


def readings(*pairs: tuple[float, float]) -> tuple[FermentReading, ...]:
    """(day, gravity)."""
    return tuple(
        FermentReading(at_utc_s=1_800_000_000.0 + day * S_PER_DAY, read_sg=sg, at_c=20.0, gravity_sg=sg)
        for day, sg in pairs
    )


@pytest.mark.parametrize(
    ("pairs", "expected"),
    [
        ([], Ferment.UNKNOWN),
        ([(30.0, 1.010)], Ferment.UNKNOWN),
        ([(0.0, 1.050), (60.0, 1.010)], Ferment.FALLING),
        ([(0.0, 1.050), (5.0, 1.012), (6.9, 1.012)], Ferment.TOO_SOON),
        ([(0.0, 1.050), (5.0, 1.012), (7.0, 1.012)], Ferment.READY),
        ([(0.0, 1.050), (5.0, 1.013), (7.0, 1.012)], Ferment.READY),
        ([(0.0, 1.050), (5.0, 1.014), (7.0, 1.012)], Ferment.FALLING),
        ([(5.0, 1.012), (6.0, 1.015), (7.0, 1.012)], Ferment.FALLING),
        ([(5.0, 1.010), (7.0, 1.012)], Ferment.RISING),
        # a slow fall: neighbours are equal, the ends are not
        ([(5.0, 1.0134), (6.0, 1.0127), (7.0, 1.0120)], Ferment.TOO_SOON),
    ],
)
def test_standing_follows_from_the_gravities(pairs: list[tuple[float, float]], expected: Ferment) -> None:
    assert standing(readings(*pairs)) is expected


def test_equal_but_far_above_what_the_yeast_was_to_reach_is_stuck_not_ready() -> None:
    steady = readings((5.0, 1.020), (8.0, 1.020))
    assert standing(steady, expected_sg=1.011) is Ferment.STUCK
    assert standing(steady, expected_sg=1.017) is Ferment.READY


def test_every_standing_has_words() -> None:
    assert set(FERMENT_WORDS) == set(Ferment)
