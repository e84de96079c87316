"""The balance of a day's litres."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kettlebridge.brewing.volumes import Losses, volumes

PLAIN = Losses(dead_space_l=1.0, boil_off_l_per_h=3.0, boil_min=60.0, absorption_l_per_kg=0.65, grain_kg=5.0)


def test_twenty_litres_of_beer_take_27_litres_of_water() -> None:
    """20 + 1 left behind, 3 L boiled away, 5 kg x 0.65 L/kg: 21, 24 and 27.25 L, worked out by hand."""
    found = volumes(20.0, PLAIN)
    assert (found.post_boil_l, found.pre_boil_l, found.total_water_l) == pytest.approx((21.0, 24.0, 27.25))


@given(
    into_l=st.floats(1.0, 100.0),
    dead_l=st.floats(0.0, 5.0),
    grain_kg=st.floats(0.0, 30.0),
    added_l=st.floats(0.0, 2.0),
    hops_kg=st.floats(0.0, 0.5),
)
def test_no_litre_is_lost_without_a_name(
    into_l: float, dead_l: float, grain_kg: float, added_l: float, hops_kg: float
) -> None:
    losses = Losses(
        dead_space_l=dead_l,
        boil_off_l_per_h=2.5,
        boil_min=75.0,
        absorption_l_per_kg=0.7,
        grain_kg=grain_kg,
        added_l=added_l,
        hops_kg=hops_kg,
    )
    found = volumes(into_l, losses)
    gains = found.total_water_l + added_l
    spent = into_l + dead_l + 6.0 * hops_kg + found.boil_off_l + found.absorbed_l
    assert gains == pytest.approx(spent)
