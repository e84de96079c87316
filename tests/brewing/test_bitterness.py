"""Bitterness: Tinseth's fit, and the rate of Malowicki and Shellhammer."""

from __future__ import annotations

import pytest

from kettlebridge.brewing.bitterness import bigness, boil_time_factor, ibu, utilisation
from kettlebridge.brewing.isomerisation import Span, boil_minutes


def held(minutes: float, at_c: float) -> Span:
    return Span(minutes=minutes, from_c=at_c, to_c=at_c)


@pytest.mark.parametrize(
    ("at_sg", "factor"), [(1.030, 1.26006), (1.050, 1.05276), (1.070, 0.87956), (1.090, 0.73486), (1.120, 0.56119)]
)
def test_bigness_is_tinseths(at_sg: float, factor: float) -> None:
    """G. Tinseth, realbeer.com/hops/research.html; constants partly from memory."""
    assert bigness(at_sg) == pytest.approx(factor, abs=1e-5)


@pytest.mark.parametrize(("minutes", "factor"), [(5, 0.04368), (15, 0.10872), (30, 0.16839), (60, 0.21910)])
def test_boil_time_counts_as_tinseth_says(minutes: float, factor: float) -> None:
    assert boil_time_factor(minutes) == pytest.approx(factor, abs=1e-5)


@pytest.mark.parametrize(("at_sg", "minutes", "part"), [(1.050, 15, 0.114), (1.050, 60, 0.231), (1.080, 60, 0.176)])
def test_utilisation_is_that_of_tinseths_table(at_sg: float, minutes: float, part: float) -> None:
    assert utilisation(at_sg, minutes) == pytest.approx(part, abs=0.0006)


def test_hour_of_28_grams_gives_32_units() -> None:
    assert ibu(28.0, 0.10, 20.0, utilisation(1.050, 60.0)) == pytest.approx(32.293, abs=0.001)


@pytest.mark.parametrize(("at_c", "minutes"), [(95, 12.99), (90, 8.34), (85, 5.28), (80, 3.31)])
def test_twenty_minutes_of_stand_are_worth_so_many_of_boil(at_c: float, minutes: float) -> None:
    assert boil_minutes([held(20.0, at_c)]) == pytest.approx(minutes, abs=0.01)


@pytest.mark.parametrize(("boil_c", "factor"), [(96.6494, 0.750), (94.9843, 0.649), (93.3174, 0.560)])
def test_hour_in_the_hills_is_worth_less(boil_c: float, factor: float) -> None:
    """Boiling points at 1000, 1500 and 2000 m: ambiance and CoolProp."""
    assert boil_minutes([held(60.0, boil_c)]) / 60.0 == pytest.approx(factor, abs=0.001)
