"""The rest of the day forward: litres and extract balance, and each choice comes to what was wanted."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kettlebridge.brewing.gravity import density_kg_per_l_at_20_c, extract_kg, plato
from kettlebridge.brewing.outlook import Bitter, Change, Standing, ends
from kettlebridge.brewing.rescue import Advice
from kettlebridge.brewing.rescue_choices import (
    DRY_EXTRACT_FRACTION,
    NEAR_L,
    NEAR_SG,
    Wanted,
    choices,
    left_as_it_is,
)

WATER_KG_PER_L = density_kg_per_l_at_20_c(0.0)
WANTED = Wanted(original_sg=1.050, fermenter_l=20.0, bitterness_ibu=30.0)


def standing(volume_l: float = 25.0, found_sg: float = 1.042, left_min: float = 60.0) -> Standing:
    return Standing(
        volume_l=volume_l,
        extract_kg=extract_kg(volume_l, plato(found_sg)),
        begun_sg=found_sg,
        boil_c=100.0,
        boil_left_min=left_min,
        boil_off_l_per_h=3.0,
        kept_l=1.5,
        attenuation_fraction=0.76,
        hops=(Bitter(alpha_g=3.0, minutes=60.0, lies_in=True), Bitter(alpha_g=1.0, minutes=15.0, lies_in=False)),
        vapour_l=0.4,
    )


STANDINGS = st.builds(
    standing,
    volume_l=st.floats(24.0, 60.0),
    found_sg=st.floats(1.020, 1.060),
    left_min=st.floats(0.0, 90.0),
).flatmap(
    lambda one: st.builds(
        lambda kept_l, dissolves_kg: replace(
            one, kept_l=kept_l, dissolves_kg=dissolves_kg, dissolves_l=0.62 * dissolves_kg
        ),
        st.floats(0.0, 2.0),
        st.floats(0.0, 0.5),
    )
)
CHANGES = st.builds(Change, minutes=st.floats(0.0, 60.0), water_l=st.floats(0.0, 5.0), extract_kg=st.floats(0.0, 0.5))


@st.composite
def off(draw: st.DrawFn) -> tuple[Standing, Wanted]:
    """A day that misses its aim by what days miss it by."""
    one = draw(STANDINGS)
    end = ends(one)
    return one, Wanted(
        original_sg=max(end.original_sg + draw(st.floats(-0.015, 0.015)), 1.010),
        fermenter_l=max(end.fermenter_l + draw(st.floats(-4.0, 4.0)), 1.0),
        bitterness_ibu=30.0,
    )


@given(one=STANDINGS, change=CHANGES)
def test_extract_is_neither_lost_nor_won(one: Standing, change: Change) -> None:
    end = ends(one, change)
    there_kg = extract_kg(end.end_l, plato(end.original_sg))
    assert there_kg == pytest.approx(one.extract_kg + one.dissolves_kg + change.extract_kg, rel=1e-6)


@given(one=STANDINGS, change=CHANGES)
def test_the_masses_balance_though_only_litres_and_extract_were_counted(one: Standing, change: Change) -> None:
    """Weighed by the density at either end, wort and what goes in less what boils away is the wort at the end."""
    end = ends(one, change)
    before_kg = one.volume_l * density_kg_per_l_at_20_c(plato(one.begun_sg))
    boiled_l = one.vapour_l + one.boil_off_l_per_h * (one.boil_left_min + change.minutes) / 60.0
    weighed_kg = before_kg + one.dissolves_kg + change.extract_kg + (change.water_l - boiled_l) * WATER_KG_PER_L
    assert end.end_l * density_kg_per_l_at_20_c(plato(end.original_sg)) == pytest.approx(weighed_kg, rel=3e-3)


@given(day=off())
def test_each_choice_comes_to_the_gravity_that_was_wanted(day: tuple[Standing, Wanted]) -> None:
    """As near as a whole minute, a tenth of a litre, a gram let it; a shorter boil only as far as there is time."""
    one, wanted = day
    boiling_l = one.boil_off_l_per_h / 60.0
    points = (wanted.original_sg - 1.0) / max(ends(one).end_l, 1.0)
    for choice in choices(one, wanted):
        if choice.code == "boil_shorter":
            assert wanted.original_sg - NEAR_SG <= choice.get("original_sg") <= ends(one).original_sg
            assert choice.get("minutes") <= one.boil_left_min - one.waits_min
            continue
        assert choice.get("original_sg") == pytest.approx(wanted.original_sg, abs=3e-4 + points * (0.1 + boiling_l))


@given(day=off())
def test_what_is_said_of_a_choice_is_what_comes_of_doing_it(day: tuple[Standing, Wanted]) -> None:
    one, wanted = day
    for choice in choices(one, wanted):
        end = ends(one, done(choice))
        assert choice.get("fermenter_l") == pytest.approx(end.fermenter_l)
        assert choice.get("original_sg") == pytest.approx(end.original_sg)
        assert choice.get("final_sg") == pytest.approx(end.final_sg)
        assert choice.get("alcohol_percent") == pytest.approx(end.alcohol_percent)
        assert choice.get("bitterness_ibu") == pytest.approx(end.bitterness_ibu)


def done(choice: Advice) -> Change:
    values = dict(choice.values)
    share = DRY_EXTRACT_FRACTION if choice.code == "malt_extract" else 1.0
    return Change(
        minutes=values.get("minutes", 0.0) * (-1.0 if choice.code == "boil_shorter" else 1.0),
        water_l=values.get("litres", 0.0),
        extract_kg=share * values.get("grams", 0.0) / 1000.0,
    )


@given(day=off())
def test_who_boils_longer_as_told_is_told_no_more_of_it(day: tuple[Standing, Wanted]) -> None:
    one, wanted = day
    for choice in choices(one, wanted):
        if choice.code == "boil_longer":
            after = replace(one, boil_left_min=one.boil_left_min + choice.get("minutes"))
            assert "boil_longer" not in {each.code for each in choices(after, wanted)}


def test_a_day_that_is_off_has_choices_of_every_kind() -> None:
    """The properties above would say nothing if nothing were offered."""
    seen: set[str] = set()
    for off_sg in (-0.008, 0.008):
        for short_l in (0.0, 3.0):
            end = ends(standing())
            wanted = Wanted(
                original_sg=end.original_sg + off_sg, fermenter_l=end.fermenter_l + short_l, bitterness_ibu=30.0
            )
            seen |= {each.code for each in choices(standing(), wanted)}
    assert seen == {"boil_longer", "boil_shorter", "water", "sugar", "malt_extract", "water_and_sugar"}


def test_what_is_near_enough_is_left_alone() -> None:
    end = ends(standing())
    near = Wanted(
        original_sg=end.original_sg + 0.9 * NEAR_SG, fermenter_l=end.fermenter_l - 0.9 * NEAR_L, bitterness_ibu=30.0
    )
    assert choices(standing(), near) == ()


def test_weak_wort_may_be_boiled_longer_or_sweetened() -> None:
    assert [each.code for each in choices(standing(found_sg=1.038, volume_l=26.0), WANTED)] == [
        "boil_longer",
        "sugar",
        "malt_extract",
    ]


def test_strong_wort_may_be_thinned_or_boiled_less() -> None:
    assert [each.code for each in choices(standing(found_sg=1.048), WANTED)] == ["water", "boil_shorter"]


def test_no_minute_is_cut_off_that_a_hop_still_needs() -> None:
    waits = replace(standing(found_sg=1.048), waits_min=56.0)
    shorter = next(each for each in choices(waits, WANTED) if each.code == "boil_shorter")
    assert shorter.get("minutes") == 4.0
    waits = replace(waits, waits_min=60.0)
    assert "boil_shorter" not in {each.code for each in choices(waits, WANTED)}


def test_once_it_has_boiled_no_boil_is_offered() -> None:
    over = replace(standing(found_sg=1.040, left_min=0.0), vapour_l=0.0)
    assert {each.code for each in choices(over, WANTED)} == {"sugar", "malt_extract"}


def test_a_longer_boil_is_longer_for_hops_that_are_in_and_not_for_those_that_wait() -> None:
    lies, waits = (Bitter(alpha_g=3.0, minutes=30.0, lies_in=lies_in) for lies_in in (True, False))
    more, same = (replace(standing(), hops=(hop,)) for hop in (lies, waits))
    longer = Change(minutes=30.0)
    assert (ends(more, longer).bitterness_ibu or 0.0) > 1.2 * (ends(more).bitterness_ibu or 0.0)
    wetter = ends(same).end_l / ends(same, longer).end_l
    assert ends(same, longer).bitterness_ibu == pytest.approx(wetter * (ends(same).bitterness_ibu or 0.0), rel=0.08)


def test_hops_of_unknown_alpha_acid_leave_bitterness_out() -> None:
    unknown = replace(standing(), hops=None)
    assert "bitterness_ibu" not in dict(left_as_it_is(unknown, WANTED).values)


def test_what_would_boil_dry_is_refused() -> None:
    with pytest.raises(ValueError, match="boil dry"):
        ends(replace(standing(), volume_l=2.0))
