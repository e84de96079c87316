"""`repeat` and `compare` of whole simulated days: one as planned, one that was changed on the way."""

from __future__ import annotations

import io
import json
import re
from contextlib import redirect_stdout
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest

from kettlebridge.brewing.day_profile import profile_of
from kettlebridge.cli.main import main
from kettlebridge.files.examples import config_folder
from kettlebridge.files.profile_file import load_profile
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import Command, CommandKind
from kettlebridge.model.ids import BatchId, CommandId
from kettlebridge.model.plan import (
    AnyStep,
    BoilStep,
    HopStandStep,
    Plan,
    Profile,
    RestStep,
)
from kettlebridge.simulated.virtual_day import Second
from tests.brewing.sheets import sheet
from tests.scenarios.again_days import record

PLAIN, CHANGED = BatchId("thimble-20270115T080000"), BatchId("thimble-20270116T080000")
LONGER_MIN, SHORTER_MIN, WARMER_C, WATER_L, MASH_WATER_L = 7.0, -5.0, 71.0, 0.6, 0.4
TOLD_LATE_MIN = 3.0
"""A boil is told so long after it began at most: hops that are due with it go in then."""

pytestmark = pytest.mark.slow


class Changes:
    """What the second brewer says: each thing once."""

    def __init__(self) -> None:
        self.said: set[str] = set()

    def __call__(self, step: AnyStep, second: Second) -> Command | None:
        stage = second.state.stage
        if isinstance(step, RestStep) and stage.timer_s > 300.0:
            return (
                self._once("warmer", CommandKind.RETARGET, target_c=WARMER_C)
                or self._once("longer", CommandKind.EXTEND, minutes=LONGER_MIN)
                or self._once("thinner", CommandKind.ADDING_WATER, litres=MASH_WATER_L)
            )
        if isinstance(step, BoilStep) and stage.timer_s > 1800.0:
            return self._once("water", CommandKind.ADDING_WATER, litres=WATER_L) or self._once(
                "shorter", CommandKind.EXTEND, minutes=SHORTER_MIN
            )
        return None

    def _once(self, name: str, kind: CommandKind, **values: float) -> Command | None:
        if name in self.said:
            return None
        self.said.add(name)
        plain = Command(id=CommandId(name), kind=kind, who="second brewer", at_kettle=True)
        return replace(plain, **values)  # type: ignore[arg-type]  # all of them are numbers of the command


@dataclass(frozen=True, slots=True, kw_only=True)
class Days:
    """The record's folder, and what was planned."""

    folder: Path
    planned: Profile


@pytest.fixture(scope="module")
def days(tmp_path_factory: pytest.TempPathFactory) -> Days:
    folder, one = tmp_path_factory.mktemp("state"), sheet("wick_mild", "thimble")
    plan = Plan(kettle=one.kettle, profile=profile_of(one))
    record(folder, plan, PLAIN, seed=2)
    record(folder, plan, CHANGED, seed=3, told=Changes())
    return Days(folder=folder, planned=plan.profile)


def said(*words: str) -> str:
    out = io.StringIO()
    with redirect_stdout(out):
        assert main(list(words)) == 0
    return out.getvalue()


@dataclass(frozen=True, slots=True, kw_only=True)
class Again:
    """What `repeat` wrote of a batch, and told."""

    path: Path
    profile: Profile
    told: str


def again(folder: Path, batch: BatchId) -> Again:
    path = folder / f"again_{batch}.toml"
    told = said("repeat", batch, "--profile", str(path), "--state", str(folder))
    assert str(path) in told
    return Again(path=path, profile=load_profile(path), told=told)


@pytest.fixture(scope="module")
def plain(days: Days) -> Again:
    return again(days.folder, PLAIN)


@pytest.fixture(scope="module")
def changed(days: Days) -> Again:
    return again(days.folder, CHANGED)


def first(profile: Profile, kind: type[AnyStep]) -> AnyStep:
    return next(step for step in profile.steps if isinstance(step, kind))


def test_a_day_as_planned_is_repeated_as_planned_but_for_its_own_minutes(days: Days, plain: Again) -> None:
    profile = plain.profile
    assert len(plain.told.splitlines()) == 1
    assert profile.water == days.planned.water
    for new, old in zip(profile.steps, days.planned.steps, strict=True):
        if not isinstance(old, BoilStep | HopStandStep):
            assert new == old
            continue
        assert isinstance(new, BoilStep | HopStandStep)
        assert new.name == old.name
        assert new.for_min == pytest.approx(old.for_min, abs=0.1)
        for made, planned in zip(new.additions, old.additions, strict=True):
            assert (made.name, made.grams) == (planned.name, planned.grams)
            assert planned.before_end_min - TOLD_LATE_MIN < made.before_end_min <= planned.before_end_min


def test_amendments_are_part_of_the_repeated_day(days: Days, changed: Again) -> None:
    profile = changed.profile
    rest, old_rest = first(profile, RestStep), first(days.planned, RestStep)
    assert isinstance(rest, RestStep)
    assert isinstance(old_rest, RestStep)
    assert rest.at_c == WARMER_C
    assert rest.for_min == pytest.approx(old_rest.for_min + LONGER_MIN, abs=0.1)
    boil, old_boil = first(profile, BoilStep), first(days.planned, BoilStep)
    assert isinstance(boil, BoilStep)
    assert isinstance(old_boil, BoilStep)
    assert boil.for_min == pytest.approx(old_boil.for_min + SHORTER_MIN, abs=0.1)
    water = next(each for each in boil.additions if each.name == "Water")
    assert water.grams == pytest.approx(1000.0 * WATER_L)
    assert water.before_end_min == pytest.approx(boil.for_min - 30.0, abs=0.2)
    hop, old_hop = boil.additions[0], old_boil.additions[0]
    asked_min = old_hop.before_end_min + SHORTER_MIN
    assert asked_min - TOLD_LATE_MIN < hop.before_end_min <= asked_min
    assert profile.water.fill_l == pytest.approx(days.planned.water.fill_l + MASH_WATER_L)
    assert f"{MASH_WATER_L:.1f} L were added by hand" in changed.told


def test_a_repeated_day_passes_check_and_its_bench_goes_as_the_day_did(days: Days, changed: Again) -> None:
    kettle = config_folder() / "kettles" / "thimble.toml"
    assert "fits" in said("check", str(changed.path), str(kettle))
    figures = json.loads(said("bench", str(changed.path), "--kettle", str(kettle), "--json"))
    boil = next(step for step in figures["steps"] if step["do"] == "boil")
    assert boil["target_c"] is not None
    rests = [step["overshoot_c"] for step in figures["steps"] if step["do"] == "rest"]
    assert rests
    assert max(rests) < 0.5  # of the bed, which is held; the stream above it is a degree warmer
    text = changed.path.read_text()
    assert text.count("[[step]]") == len(days.planned.steps)


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """What `compare` says of both days with their recipe, and the text of its page."""

    values: dict[str, Any]
    page: str


@pytest.fixture(scope="module")
def compared(days: Days) -> Compared:
    recipe = config_folder() / "recipes" / "wick_mild.toml"
    page = days.folder / "side_by_side.html"
    words = ["compare", PLAIN, CHANGED, "--state", str(days.folder), "--recipe", str(recipe)]
    return Compared(values=json.loads(said(*words, "--json", "--html", str(page))), page=page.read_text())


def test_compared_batches_show_what_differed(compared: Compared) -> None:
    values = compared.values
    assert [each["batch"] for each in values["batches"]] == [PLAIN, CHANGED]
    rest = next(row for row in values["steps"] if row["kind"] == "rest")
    plain, changed = rest["sides"]
    assert changed["ended_s"] - changed["begun_s"] > plain["ended_s"] - plain["begun_s"] + 120.0
    assert changed["mean_c"] > plain["mean_c"] + 0.5
    water = values["figures"]["water_l"]
    assert water[1] == pytest.approx(water[0] + MASH_WATER_L, abs=0.1)
    assert values["figures"]["energy_kwh"][0] > 0.0
    assert compared.page.count('class="line"') == 4
    assert CHANGED in compared.page
    for outside in ("src=", "href=", "@import", "url("):
        assert outside not in compared.page


def test_without_a_recipe_batches_are_compared_as_a_table(days: Days) -> None:
    table = said("compare", PLAIN, CHANGED, "--state", str(days.folder))
    assert re.search(r"Boil +│ +\d+ │ +\d+ \([+-]\d+\)", table)


def test_with_its_recipe_a_comparison_knows_bitterness(compared: Compared) -> None:
    bitter = compared.values["figures"]["bitterness_ibu"]
    assert bitter[0] > bitter[1] > 0.0


@pytest.mark.parametrize("words", [["after", PLAIN], ["compare", PLAIN, CHANGED]], ids=lambda words: words[0])
def test_another_beers_recipe_is_refused(words: list[str], days: Days, capsys: pytest.CaptureFixture[str]) -> None:
    recipe = str(config_folder() / "recipes" / "corvane_pale.toml")
    assert main([*words, "--state", str(days.folder), "--recipe", recipe]) == 2
    assert 'was brewed from "Nether Wick Mild"' in capsys.readouterr().err


def test_one_batch_is_not_compared_with_itself(days: Days, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["compare", PLAIN, PLAIN, "--state", str(days.folder)]) == 2
    assert "two to" in capsys.readouterr().err


def stops_in_the_mash(step: AnyStep, second: Second) -> Command | None:
    if isinstance(step, RestStep) and second.state.stage.timer_s > 600.0:
        return Command(id=CommandId("stop"), kind=CommandKind.STOP, who="brewer")
    return None


def test_a_batch_that_ended_early_is_repeated_as_planned_from_there(days: Days, tmp_path: Path) -> None:
    one = sheet("wick_mild", "thimble")
    plan = Plan(kettle=one.kettle, profile=days.planned)
    record(tmp_path, plan, PLAIN, seed=2, told=stops_in_the_mash, ends=BatchState.STOPPED)
    stopped = again(tmp_path, PLAIN)
    assert stopped.profile.steps == days.planned.steps
    assert f"ended before {first(days.planned, RestStep).name} was done" in stopped.told
