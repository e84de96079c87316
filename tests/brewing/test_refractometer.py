"""Refractometers against the OIV corrections."""

from __future__ import annotations

import pytest

from kettlebridge.brewing.refractometer import brix_at_20_c, wort_plato


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
