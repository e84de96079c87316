"""How much of a recipe a kettle takes."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kettlebridge.brewing.brew_sheet import brew_sheet
from kettlebridge.brewing.cautions import fits
from kettlebridge.brewing.day import Day
from kettlebridge.brewing.fitting import volumes_that_fit
from kettlebridge.brewing.scaling import scaled
from tests.brewing.sheets import example_recipes, kettle, recipe


@pytest.mark.parametrize("name", [path.stem for path in example_recipes()])
def test_largest_volume_fits_and_a_little_more_does_not(name: str) -> None:
    found = volumes_that_fit(recipe(name), kettle("thimble"), Day())
    assert found is not None
    smallest_l, largest_l = found
    assert 0.0 < smallest_l < largest_l < 12.0
    for batch_l in found:
        assert fits(brew_sheet(scaled(recipe(name), batch_l), kettle("thimble"), Day()))
    assert not fits(brew_sheet(scaled(recipe(name), largest_l + 0.25), kettle("thimble"), Day()))


def test_kettle_that_cannot_boil_takes_nothing() -> None:
    assert volumes_that_fit(recipe("wick_mild"), replace(kettle("thimble"), heater_w=300.0), Day()) is None
