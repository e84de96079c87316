"""Whose beer a batch was."""

from __future__ import annotations

from dataclasses import replace

from kettlebridge.brewing.beside_plan import brewed_from
from kettlebridge.brewing.day_profile import profile_of
from tests.brewing.sheets import sheet


def test_a_day_is_its_recipes_under_its_name_or_by_its_hops() -> None:
    mild = sheet("wick_mild", "thimble")
    day, pale = profile_of(mild), sheet("corvane_pale", "saddle").recipe
    assert brewed_from(mild.recipe, day)
    assert brewed_from(mild.recipe, replace(day, name="Again"))
    assert brewed_from(replace(mild.recipe, hops=()), day)
    assert not brewed_from(replace(mild.recipe, name="No hops", hops=()), day)
    assert not brewed_from(pale, day)
