"""Recipes: what they may say, and each mistake with its place."""

from __future__ import annotations

from pathlib import Path

import pytest

from kettlebridge.files.recipe_file import load_recipe
from kettlebridge.model.errors import FileError
from kettlebridge.model.recipe import FermentableKind, HopUse, Recipe, YeastKind
from tests.brewing.sheets import example_recipes
from tests.files.texts import swapped

RECIPE = """\
schema = 1
name = "Plain"
batch_l = 20
[[grist]]
name = "Malt"
kind = "grain"
kg = 4.5
yield_percent = 80
colour_ebc = 5
[[grist]]
name = "Sugar"
kind = "sugar"
kg = 0.3
yield_percent = 100
moisture_percent = 0
colour_ebc = 0
[[hop]]
name = "Hop"
grams = 30
alpha_percent = 6
use = "boil"
before_end_min = 60
[mash]
[[mash.rest]]
at_c = 66
for_min = 60
[boil]
for_min = 60
[yeast]
name = "Yeast"
kind = "ale"
pitch_c = 19
"""
ADDITION = '[[addition]]\nname = "Moss"\nkind = "fining"\ngrams = 3\nuse = "{use}"\n{more}\n[boil]'


INFUSED = """[mash]
infusion_c = 70
[[mash.rest]]
at_c = 66
for_min = 60
[[mash.rest]]
at_c = 72
for_min = 9
by = "infusion"
"""


class Recipes:
    """Writes a recipe's text and loads it."""

    def __init__(self, folder: Path) -> None:
        self._path = folder / "it.toml"

    def load(self, text: str) -> Recipe:
        self._path.write_text(text, encoding="utf-8")
        return load_recipe(self._path)

    def mistakes(self, text: str) -> list[str]:
        with pytest.raises(FileError) as caught:
            self.load(text)
        return [str(mistake).removeprefix(f"{self._path.parent}/") for mistake in caught.value.mistakes]


@pytest.fixture
def recipes(tmp_path: Path) -> Recipes:
    return Recipes(tmp_path)


def test_recipe_says_what_it_says(recipes: Recipes) -> None:
    found = recipes.load(RECIPE)
    assert found.batch_l == 20.0
    assert [each.kind for each in found.mashed] == [FermentableKind.GRAIN]
    assert [each.before_end_min for each in found.fermentables] == [None, 15.0]
    assert found.mashed[0].extract_kg == pytest.approx(4.5 * 0.96 * 0.80)
    assert found.hops[0].use is HopUse.BOIL
    assert found.hops[0].alpha_fraction == pytest.approx(0.06)
    assert found.yeast.kind is YeastKind.ALE
    assert found.mash is not None
    assert found.mash.water_l_per_kg == 3.5


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("alpha_percent = 6", "alpha_percent = 120", "it.toml:20: hop[1].alpha_percent: 120 is too big: 0 to 30 %"),
        ("kg = 4.5", "kg = -4.5", "it.toml:7: grist[1].kg: -4.5 is too small: 0.005 to 60 kg"),
        ("grams = 30", "grams = 1e9", "it.toml:19: hop[1].grams: 1000000000 is too big: 0.1 to 5000 g"),
        ("batch_l = 20", "batch_l = nan", "it.toml:3: batch_l: nan is not a finite number: 1 to 200 L"),
        (
            'use = "boil"',
            'use = "soup"',
            'it.toml:21: hop[1].use: "soup" is not allowed: mash, first_wort, boil, stand, dry',
        ),
        (
            'kind = "grain"',
            'kind = "malt"',
            'it.toml:6: grist[1].kind: "malt" is not allowed: grain, adjunct, extract, dry_extract, sugar',
        ),
        ('use = "boil"', 'use = "stand"', "it.toml:21: hop[1].use: there is no [stand]"),
        ('use = "boil"', 'use = "dry"', "it.toml:22: hop[1].before_end_min: is refused: dry has no end to count from"),
        (
            "before_end_min = 60",
            "before_end_min = 61",
            "it.toml:22: hop[1].before_end_min: 61 is too big: the boil lasts 60 min",
        ),
        ("before_end_min = 60\n", "", "it.toml:17: hop[1].before_end_min: missing: minutes before the end of the boil"),
        (
            "yield_percent = 80",
            "yield_percent = 80\nbefore_end_min = 5",
            "it.toml:9: grist[1].before_end_min: is refused: it is mashed",
        ),
        (
            "colour_ebc = 0",
            "colour_ebc = 0\nbefore_end_min = 90",
            "it.toml:17: grist[2].before_end_min: 90 is too big: the boil lasts 60 min",
        ),
        (
            "at_c = 66\nfor_min = 60",
            "at_c = 66\nfor_min = 60\n[[mash.rest]]\nat_c = 66\nfor_min = 5",
            "it.toml:28: mash.rest[2].at_c: 66 is the rest before it again: make that one longer",
        ),
        (
            "at_c = 66\nfor_min = 60",
            "at_c = 66\nfor_min = 60\n[[mash.rest]]\nat_c = 52\nfor_min = 5",
            "it.toml:28: mash.rest[2].at_c: 52 is colder than the rest before it: a mash only gets warmer",
        ),
        (
            "at_c = 66\nfor_min = 60",
            'at_c = 66\nfor_min = 60\nby = "infusion"',
            "it.toml:27: mash.rest[1].by: is refused: the strike water brings the mash to its first rest",
        ),
        (
            "[mash]\n[[mash.rest]]\nat_c = 66\nfor_min = 60",
            INFUSED,
            "it.toml:24: mash.infusion_c: 70 is not hotter than the rest at 72",
        ),
        (
            "pitch_c = 19",
            "pitch_c = 19\n[target]\noriginal_sg = 1.05\nfinal_sg = 1.06",
            "it.toml:35: target.final_sg: 1.06 is not below original_sg, 1.05",
        ),
        (
            "[boil]",
            ADDITION.format(use="stand", more="before_end_min = 5"),
            "it.toml:31: addition[1].use: there is no [stand]",
        ),
        (
            "[boil]",
            ADDITION.format(use="fermenter", more="before_end_min = 5"),
            "it.toml:32: addition[1].before_end_min: is refused: fermenter has no end to count from",
        ),
        (
            "batch_l = 20",
            "batch_gal = 5",
            "it.toml: batch_l: missing: 1 to 200 L; into the fermenter, for the amounts below",
        ),
    ],
)
def test_mistake_is_told_with_its_place(recipes: Recipes, old: str, new: str, told: str) -> None:
    assert told in recipes.mistakes(swapped(RECIPE, old, new))


def test_grain_without_a_mash_is_a_mistake(recipes: Recipes) -> None:
    text = swapped(RECIPE, "[mash]\n[[mash.rest]]\nat_c = 66\nfor_min = 60\n", "")
    assert recipes.mistakes(text) == ["it.toml: mash: missing: there is grain in the grist"]


def test_mash_without_grain_is_a_mistake(recipes: Recipes) -> None:
    text = swapped(RECIPE, 'kind = "grain"', 'kind = "extract"')
    assert recipes.mistakes(text) == ["it.toml:23: mash: is refused: nothing in the grist is mashed"]


def test_recipe_without_anything_in_it_is_a_mistake(recipes: Recipes) -> None:
    assert len(recipes.mistakes("schema = 1\ngrist = []")) >= 4


def test_examples_are_at_least_six_and_show_every_kind_and_use() -> None:
    found = [load_recipe(path) for path in example_recipes()]
    assert len(found) >= 6
    assert {each.kind for recipe in found for each in recipe.fermentables} == set(FermentableKind)
    assert {hop.use for recipe in found for hop in recipe.hops} >= set(HopUse) - {HopUse.MASH}
    assert {recipe.yeast.kind for recipe in found} == set(YeastKind)
    assert {recipe.mash is None for recipe in found} == {True, False}
    assert any(recipe.mash is not None and not recipe.mash.sparges for recipe in found)
