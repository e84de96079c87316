"""What went wrong, told on the page: what mends it, in words, with the figures of this kettle and recipe."""

from __future__ import annotations

from pathlib import Path
from urllib.parse import urlencode

import pytest

from kettlebridge.files.examples import config_folder
from kettlebridge.files.library import FolderLibrary
from kettlebridge.model.plan import StepKind
from kettlebridge.web.rescue import TROUBLES
from tests.documents.builders import snapshot
from tests.web.rooms import House, house, seen

FIGURES = {
    "mash-missed": {"found_c": "62,5"},
    "stuck": {},
    "wort": {"litres": "7.5", "litres_c": "70", "gravity_sg": "1.030", "sample_c": "20"},
    "late-hop": {"left_min": "20"},
    "boil-over": {"lost_l": "0.5", "left_min": "30"},
}


async def told(the_house: House, trouble: str, **figures: str) -> str:
    library = FolderLibrary((config_folder() / "recipes",))
    name = "Corvane Pale"
    recipe = library.recipe(name)
    assert recipe is not None
    hop = {"hop": recipe.hops[0].name} if trouble == "late-hop" else {}
    query = urlencode({"trouble": trouble, "recipe": name} | hop | FIGURES[trouble] | figures)
    answer = await the_house.get(f"/kettles/thimble/rescue?{query}")
    assert answer.status == 200
    return answer.text


@pytest.mark.parametrize("trouble", TROUBLES)
async def test_each_trouble_is_answered_with_what_mends_it_and_what_comes_of_it_otherwise(trouble: str) -> None:
    the_house = house()
    text = await told(the_house, trouble)
    assert "What mends it" in text
    assert "If nothing is done:" in text
    assert the_house.commands.taken == []


async def test_a_cold_mash_is_answered_with_its_own_figures() -> None:
    text = await told(house(), "mash-missed", found_c="60,0")
    assert "The mash stands at 60.0 °C" in text
    assert "Heat it" in text


@pytest.mark.parametrize(
    ("trouble", "figures"),
    [("mash-missed", {"found_c": "hot"}), ("wort", {"gravity_sg": "48"}), ("boil-over", {"lost_l": "90"})],
)
async def test_figures_that_make_no_sense_are_told_so(trouble: str, figures: dict[str, str]) -> None:
    text = await told(house(), trouble, **figures)
    assert "What mends it" not in text
    assert "<h1>What went wrong?</h1>" not in text


async def test_minutes_left_of_the_boil_in_hand_stand_there_already() -> None:
    the_house = house()
    boil = snapshot(index=2, name="Boil", kind=StepKind.BOIL, stage="boil").step
    the_house.snapshots.publish(seen(101, step=boil), ())
    assert 'name="left_min" inputmode="decimal" value="22"' in (await the_house.get("/kettles/thimble/rescue")).text


async def test_a_recipe_that_is_not_at_hand_is_not_taken_for_the_first_of_the_list() -> None:
    the_house = house()
    text = (await the_house.get("/kettles/thimble/rescue")).text
    assert "The recipe of this day, Short day, is not at hand" in text
    assert text.count('<option value="" selected>choose</option>') == len(TROUBLES)
    chosen = (await the_house.get(f"/kettles/thimble/rescue?{urlencode({'recipe': 'Corvane Pale'})}")).text
    assert "not at hand" not in chosen
    assert "<option selected>Corvane Pale</option>" in chosen


def test_a_recipe_is_read_anew_when_its_file_is_written_and_a_broken_one_is_left_out(tmp_path: Path) -> None:
    example = sorted((config_folder() / "recipes").glob("*.toml"))[0].read_text(encoding="utf-8")
    library = FolderLibrary((tmp_path, tmp_path / "missing"))
    assert library.recipes() == ()
    (tmp_path / "a.toml").write_text(example, encoding="utf-8")
    (name,) = library.recipes()
    (tmp_path / "b.toml").write_text("name = ", encoding="utf-8")
    assert library.recipes() == (name,)
    (tmp_path / "a.toml").unlink()
    assert library.recipe(name) is None
