"""A profile that was written is the profile that is read."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from kettlebridge.brewing.brew_sheet import brew_sheet
from kettlebridge.brewing.day import Day
from kettlebridge.brewing.day_profile import profile_of
from kettlebridge.core.validation import misfits
from kettlebridge.files.examples import example_profiles
from kettlebridge.files.profile_file import load_profile
from kettlebridge.files.profile_text import profile_text
from kettlebridge.model.plan import (
    Addition,
    AdditionKind,
    AskKind,
    AskStep,
    BoilStep,
    ChillStep,
    HeatStep,
    HopStandStep,
    Profile,
    RestStep,
)
from tests.brewing.sheets import kettle, pairs_that_fit, recipe, sheet
from tests.files.loader import Loader

ORDER = [AskKind.FILL, AskKind.DOUGH_IN, AskKind.LIFT, AskKind.SPARGE, AskKind.DRAIN, AskKind.BASKET_AWAY]


def asked(profile: Profile) -> list[AskKind]:
    return [step.what for step in profile.steps if isinstance(step, AskStep)]


def additions(profile: Profile) -> list[Addition]:
    return [each for step in profile.steps if isinstance(step, BoilStep | HopStandStep) for each in step.additions]


@pytest.mark.parametrize("path", example_profiles(), ids=lambda path: path.stem)
def test_example_survives_being_written_and_read(loader: Loader, path: Path) -> None:
    profile = load_profile(path)
    assert loader.profile(profile_text(profile)) == profile


@pytest.mark.parametrize("ready_at", [None, "06:45"])
@pytest.mark.parametrize(("recipe_name", "kettle_name"), pairs_that_fit())
def test_profile_of_a_sheet_is_a_file_that_fits_its_kettle(
    loader: Loader, recipe_name: str, kettle_name: str, ready_at: str | None
) -> None:
    made = profile_of(sheet(recipe_name, kettle_name), ready_at)
    assert loader.profile(profile_text(made)) == made
    assert misfits(kettle(kettle_name), made) == ()


def test_names_with_quotes_and_backslashes_survive(loader: Loader) -> None:
    profile = Profile(
        name="\"Back\\slash\" 'and' # hash",
        water=load_profile(example_profiles()[0]).water,
        steps=load_profile(example_profiles()[0]).steps,
    )
    made = loader.profile(profile_text(profile))
    assert made.name == profile.name


def test_day_leads_from_filling_to_cleaning() -> None:
    made = profile_of(sheet("corvane_pale", "saddle"))
    assert asked(made)[: len(ORDER)] == ORDER
    assert asked(made)[len(ORDER) :] == [AskKind.PITCH, AskKind.EMPTY, AskKind.FILL, AskKind.EMPTY]
    assert made.water.sparge_l == round(sheet("corvane_pale", "saddle").water.sparge_l, 2)


def test_every_hop_and_sugar_of_the_hot_side_is_called_for() -> None:
    made = profile_of(sheet("landing_saison", "ferryman"))
    assert [(each.name, each.kind, each.grams, each.before_end_min) for each in additions(made)] == [
        ("Ostrey", AdditionKind.HOPS, 45.0, 60.0),
        ("White sugar", AdditionKind.SUGAR, 500.0, 20.0),
        ("Wrenlow leaf", AdditionKind.HOPS, 30.0, 5.0),
    ]
    assert AskKind.SPARGE not in asked(made)


def test_what_goes_in_by_hand_is_said_where_it_goes_in() -> None:
    texts = {
        step.what: step.text for step in profile_of(sheet("corvane_pale", "saddle")).steps if isinstance(step, AskStep)
    }
    assert "Calcium sulphate 4 g" in texts[AskKind.DOUGH_IN]
    assert "Perrin's gold 22 g" in texts[AskKind.BASKET_AWAY]
    assert "14." in texts[AskKind.LIFT]
    assert texts[AskKind.LIFT].count(" kg") == 1  # drained, the page says itself


def test_unattended_heating_does_not_pump() -> None:
    attended, armed = (profile_of(sheet("corvane_pale", "saddle"), ready_at) for ready_at in (None, "07:00"))
    heats = [step for made in (attended, armed) for step in made.steps if isinstance(step, HeatStep)]
    assert [(heat.pump, heat.ready) for heat in heats] == [(True, False), (False, True)]


def test_chiller_in_line_is_sanitised_by_the_last_ten_minutes() -> None:
    """Boiling wort in about the last ten minutes (common practice, no source)."""
    lasts = {
        name: [step.sanitise_last_min for step in profile_of(sheet(*pair)).steps if isinstance(step, BoilStep)]
        for name, pair in {"in line": ("ferry_bock", "ferryman"), "coil": ("corvane_pale", "saddle")}.items()
    }
    assert lasts == {"in line": [10.0], "coil": [None]}


def test_recipe_of_extract_makes_a_day_without_a_mash() -> None:
    made = profile_of(sheet("ropewalk_amber", "thimble"), "07:00")
    assert not any(isinstance(step, RestStep | HeatStep) for step in made.steps)
    assert made.water.grain_kg == 0.0
    assert made.ready_at is None
    assert any(isinstance(step, ChillStep) for step in made.steps)


def test_small_kettle_without_a_pump_is_cleaned_by_hand(loader: Loader) -> None:
    vessel = replace(kettle("thimble"), has_pump=False)
    made = profile_of(brew_sheet(recipe("wick_mild"), vessel, Day()))
    assert misfits(vessel, made) == ()
    assert loader.profile(profile_text(made)) == made
