"""Bitterness: Tinseth's fit, and the kinetics of Malowicki and Shellhammer."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kettlebridge.brewing.bitterness import bigness, boil_time_factor, grams_for, ibu, utilisation
from kettlebridge.brewing.isomerisation import (
    Span,
    boil_minutes,
    degrading_per_min,
    iso_fraction,
    isomerising_per_min,
)


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
    found = ibu(28.0, 0.10, 20.0, utilisation(1.050, 60.0))
    assert found == pytest.approx(32.293, abs=0.001)
    assert grams_for(found, 0.10, 20.0, utilisation(1.050, 60.0)) == pytest.approx(28.0)


@pytest.mark.parametrize(
    ("at_c", "k1", "k2"), [(80, 0.002065, 0.000430), (90, 0.005206, 0.001183), (100, 0.012490, 0.003087)]
)
def test_rates_are_those_of_malowicki_and_shellhammer(at_c: float, k1: float, k2: float) -> None:
    """J. Agric. Food Chem. 53 (2005) 4434."""
    assert isomerising_per_min(at_c) == pytest.approx(k1, rel=1e-3)
    assert degrading_per_min(at_c) == pytest.approx(k2, rel=2e-3)


@pytest.mark.parametrize(
    ("at_c", "yields"),
    [(80, (0.0304, 0.0597, 0.1150, 0.1663)), (100, (0.1668, 0.2976, 0.4759, 0.5745)), (120, (0.5234, 0.6024, 0.4408))],
)
def test_yield_of_a_steady_boil_is_the_closed_solution(at_c: float, yields: tuple[float, ...]) -> None:
    found = [iso_fraction([held(minutes, at_c)]) for minutes in (15, 30, 60, 90)[: len(yields)]]
    assert found == pytest.approx(yields, abs=2e-4)


def test_long_boil_at_100_is_best_after_two_and_a_half_hours() -> None:
    at = {minutes: iso_fraction([held(minutes, 100.0)]) for minutes in (120, 148.6, 180)}
    assert at[148.6] > at[120]
    assert at[148.6] > at[180]


@pytest.mark.parametrize(("at_c", "minutes"), [(95, 12.99), (90, 8.34), (85, 5.28), (80, 3.31)])
def test_twenty_minutes_of_stand_are_worth_so_many_of_boil(at_c: float, minutes: float) -> None:
    assert boil_minutes([held(20.0, at_c)]) == pytest.approx(minutes, abs=0.01)


@pytest.mark.parametrize(("boil_c", "factor"), [(96.6494, 0.750), (94.9843, 0.649), (93.3174, 0.560)])
def test_hour_in_the_hills_is_worth_less(boil_c: float, factor: float) -> None:
    """Boiling points at 1000, 1500 and 2000 m: ambiance and CoolProp."""
    assert boil_minutes([held(60.0, boil_c)]) / 60.0 == pytest.approx(factor, abs=0.001)


@given(st.lists(st.tuples(st.floats(0.1, 40.0), st.floats(20.0, 103.0), st.floats(20.0, 103.0)), max_size=5))
def test_acid_is_never_made_of_nothing(spans: list[tuple[float, float, float]]) -> None:
    history = [Span(minutes=minutes, from_c=begin, to_c=end) for minutes, begin, end in spans]
    assert 0.0 <= iso_fraction(history) <= 1.0


def test_slow_fall_is_as_fine_as_its_pieces() -> None:
    whole = iso_fraction([Span(minutes=30.0, from_c=98.0, to_c=70.0)])
    halves = iso_fraction([Span(minutes=15.0, from_c=98.0, to_c=84.0), Span(minutes=15.0, from_c=84.0, to_c=70.0)])
    assert whole == pytest.approx(halves, rel=1e-3)
