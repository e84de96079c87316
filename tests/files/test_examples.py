"""The examples that travel with the program are right, and between them show everything there is."""

from __future__ import annotations

from itertools import chain
from pathlib import Path

import pytest

from kettlebridge.files.examples import config_folder, example_kettles, example_profiles
from kettlebridge.files.kettle_file import load_kettle
from kettlebridge.files.profile_file import load_profile
from kettlebridge.files.supply import load_kettles
from kettlebridge.model.errors import OperatorError
from kettlebridge.model.kettle import ChillWay, HeaterDrive, Kettle
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
    StepKind,
)


@pytest.fixture(scope="module")
def kettles() -> dict[str, Kettle]:
    return {path.stem: load_kettle(path).kettle for path in example_kettles()}


@pytest.fixture(scope="module")
def profiles() -> dict[str, Profile]:
    return {path.stem: load_profile(path) for path in example_profiles()}


def additions(profile: Profile) -> list[Addition]:
    return [each for step in profile.steps if isinstance(step, BoilStep | HopStandStep) for each in step.additions]


def test_every_example_is_named_after_its_kettle(kettles: dict[str, Kettle]) -> None:
    assert [kettle.name for kettle in kettles.values()] == list(kettles)
    assert {"ferryman", "saddle", "thimble"} <= set(kettles)


def test_examples_may_run_in_one_service() -> None:
    assert len(load_kettles(example_kettles())) == len(example_kettles())


def test_kettles_show_both_drives_both_chills_and_an_altitude(kettles: dict[str, Kettle]) -> None:
    assert {kettle.drive for kettle in kettles.values()} == set(HeaterDrive)
    assert {kettle.chill for kettle in kettles.values()} == set(ChillWay)
    assert kettles["saddle"].boil_c == pytest.approx(94.65, abs=0.01)


def test_profiles_show_every_step_ask_and_addition(profiles: dict[str, Profile]) -> None:
    steps = list(chain.from_iterable(profile.steps for profile in profiles.values()))
    assert {step.kind for step in steps} == set(StepKind)
    assert {step.what for step in steps if isinstance(step, AskStep)} == set(AskKind)
    assert {each.kind for profile in profiles.values() for each in additions(profile)} == set(AdditionKind)
    assert any(isinstance(step, HeatStep) and step.ready for step in steps)
    assert any(isinstance(step, BoilStep) and step.sanitise_last_min for step in steps)
    assert {step.way for step in steps if isinstance(step, ChillStep)} == {None, ChillWay.IN_LINE}


def test_mashes_are_of_a_usual_thickness(profiles: dict[str, Profile]) -> None:
    for profile in profiles.values():
        assert 2.5 <= profile.water.fill_l / profile.water.grain_kg <= 4.0  # common practice, no source


def test_each_kettle_has_a_profile_that_it_holds_and_the_porter_is_too_big_for_the_small_ones(
    kettles: dict[str, Kettle], profiles: dict[str, Profile]
) -> None:
    def mash_l(profile: Profile) -> float:
        return profile.water.fill_l + 0.7 * profile.water.grain_kg  # a kilogram of grain takes the room of 0.7 L

    assert mash_l(profiles["quillet_bitter"]) < kettles["thimble"].capacity_l
    assert kettles["thimble"].capacity_l < mash_l(profiles["corvane_wheat"]) < kettles["saddle"].capacity_l
    assert kettles["saddle"].capacity_l < mash_l(profiles["long_crossing_porter"]) < kettles["ferryman"].capacity_l


def test_installed_copy_finds_its_own_examples_first(tmp_path: Path) -> None:
    package = tmp_path / "site" / "kettlebridge"
    (package / "config" / "kettles").mkdir(parents=True)
    assert config_folder(package) == package / "config"


def test_checkout_finds_them_at_its_top() -> None:
    assert (config_folder() / "profiles").is_dir()


def test_installation_without_examples_says_so(tmp_path: Path) -> None:
    with pytest.raises(OperatorError, match="no example files"):
        config_folder(tmp_path / "site" / "kettlebridge")
