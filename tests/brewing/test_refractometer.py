"""Refractometers against the ICUMSA fit and OIV corrections."""

from __future__ import annotations

import pytest

from kettlebridge.brewing.refractometer import brix, brix_at_20_c, wort_plato


@pytest.mark.parametrize(("index", "sugar"), [(1.33301, 0), (1.34029, 5), (1.34785, 10), (1.35571, 15), (1.36387, 20)])
def test_brix_follows_the_icumsa_fit(index: float, sugar: float) -> None:
    """The fit printed at liquisearch.com/brix, inverted."""
    assert brix(index) == pytest.approx(sugar, abs=0.01)


@pytest.mark.parametrize(("index", "sugar"), [(1.33299, 0), (1.34026, 5), (1.34782, 10), (1.36384, 20)])
def test_brix_is_near_the_icumsa_table(index: float, sugar: float) -> None:
    """Table values from memory; the fit reads about 0.02 low."""
    assert brix(index) == pytest.approx(sugar, abs=0.04)


@pytest.mark.parametrize(
    ("sugar", "at_c", "to_add"), [(10, 5, -0.82), (15, 10, -0.62), (20, 15, -0.34), (15, 17, -0.20), (10, 20, 0.0)]
)
def test_cold_sample_reads_too_much(sugar: float, at_c: float, to_add: float) -> None:
    """OIV-MA-AS2-02."""
    assert brix_at_20_c(sugar, at_c) - sugar == pytest.approx(to_add, abs=0.01)


def test_outside_the_table_its_edge_is_taken() -> None:
    assert brix_at_20_c(30.0, 1.0) == pytest.approx(30.0 - 0.92)
    assert brix_at_20_c(10.0, 28.0) == 10.0


def test_wort_bends_more_than_sugar() -> None:
    assert wort_plato(12.48) == pytest.approx(12.0)  # divisor 1.04, from memory
