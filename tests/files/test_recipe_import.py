"""Recipes of other programs: each field is accounted for, or the file is refused with the place of what is wrong."""

from __future__ import annotations

import json
import subprocess
import sys
import time
import tracemalloc
from pathlib import Path
from typing import Any

import pytest
from defusedxml.ElementTree import fromstring

from kettlebridge.files.recipe_file import load_recipe
from kettlebridge.files.recipe_import import Imported, import_recipes
from kettlebridge.files.source_fields import Verdict
from kettlebridge.model.errors import FileError
from kettlebridge.model.plan import AdditionKind
from kettlebridge.model.recipe import AdditionUse, FermentableKind, HopUse, Way, YeastKind
from tests.files.hostile_files import ELSEWHERE, HOSTILE, hostile

FOLDER = Path(__file__).parent / "recipes_made_by_hand"
GOOD = sorted((FOLDER / "good").iterdir())
BAD = sorted((FOLDER / "bad").iterdir())
TOLD = {
    "absurd.xml": "FERMENTABLE/AMOUNT: 1e+300 is too big: 0.005 to 60 kg",
    "alpha_120.json": "hop_additions[1].alpha_acid: 120 is too big: 0 to 30 %",
    "alpha_120.xml": "alpha_120.xml:16: RECIPES/RECIPE/HOPS/HOP[1]/ALPHA: 120 is too big: 0 to 30 %",
    "bomb.xml": "bomb.xml:2: declares a document type or entities",
    "comma.xml": '"2,5" is not a number; decimals are written with a point',
    "empty.xml": "is empty",
    "external_entity.xml": "external_entity.xml:2: declares a document type or entities",
    "external_type.xml": "external_type.xml:2: declares a document type or entities",
    "falling_rests.xml": "MASH_STEP[3]/STEP_TEMP: 52 is colder than the rest before it",
    "hop_longer_than_the_boil.xml": "HOP[1]/TIME: 90 is too big: the boil lasts 70 min",
    "infinite.json": "amount.value: inf is not a finite number",
    "key_twice.json": 'has the key "name" twice',
    "later_version.json": "is BeerJSON 9; 1.0 is understood",
    "list.json": "is no BeerJSON",
    "negative.json": "fermentable_additions[1].amount: -2 is too small",
    "negative.xml": "FERMENTABLE/AMOUNT: -2 is too small",
    "no_amount.xml": "FERMENTABLES/FERMENTABLE: AMOUNT is missing",
    "no_name.xml": "RECIPES/RECIPE: NAME is missing",
    "no_recipe.json": "holds no recipe",
    "no_recipe.xml": "holds no recipe",
    "no_unit.json": "amount: needs a value and a unit: mg, g, kg, lb, oz",
    "no_version.json": "beerjson.version is missing or no number",
    "not_a_number.json": "holds NaN, which is no number",
    "not_a_number.xml": "AMOUNT: nan is not a finite number",
    "not_closed.json": "not_closed.json:4: is not JSON",
    "not_closed.xml": "not_closed.xml:4: is not XML: mismatched tag",
    "odd_type.xml": 'TYPE: "Gravel" is none of grain, sugar, extract, dry extract, adjunct',
    "odd_unit.json": 'amount.unit: "stone" is none of mg, g, kg, lb, oz',
    "odd_use.json": 'timing.use: "add_to_soup" is none of add_to_mash',
    "rest_too_hot.xml": "MASH_STEP[3]/STEP_TEMP: 95 is too big: 30 to 80 °C",
    "same_rest_twice.xml": "MASH_STEP[2]/STEP_TEMP: 50 is the rest before it again",
    "text_for_a_number.json": "amount.value: is text, not a number",
    "unknown_encoding.xml": "unknown encoding: klingon",
    "volume_of_grain.json": "amount: is a volume, and nobody says what it weighs",
    "web_page.html": "web_page.html:1: is not XML",
}
"""What the refusal of each bad file must say."""


def good(name: str) -> Imported:
    (found,) = import_recipes(FOLDER / "good" / name)
    return found


def refusal(path: Path) -> str:
    with pytest.raises(FileError) as caught:
        import_recipes(path)
    return str(caught.value)


def verdicts(imported: Imported, verdict: Verdict) -> dict[str, str]:
    return {note.place.removeprefix("RECIPES/RECIPE/"): note.why for note in imported.notes if note.verdict is verdict}


@pytest.mark.parametrize("path", GOOD, ids=lambda path: path.name)
def test_written_recipe_is_the_one_that_was_imported(path: Path, tmp_path: Path) -> None:
    for imported in import_recipes(path):
        written = tmp_path / "it.toml"
        written.write_text(imported.text, encoding="utf-8")
        assert load_recipe(written) == imported.recipe


@pytest.mark.parametrize("path", BAD, ids=lambda path: path.name)
def test_bad_file_is_refused_with_its_place(path: Path) -> None:
    assert TOLD[path.name] in refusal(path)


def test_every_bad_file_has_its_words() -> None:
    assert sorted(TOLD) == [path.name for path in BAD]


def xml_texts(text: str) -> int:
    """How many elements hold text of their own, counted without our reader."""
    return sum(1 for element in fromstring(text).iter() if len(element) == 0)


def json_scalars(value: Any) -> int:
    if isinstance(value, dict) and value:
        return sum(json_scalars(inner) for inner in value.values())
    if isinstance(value, list) and value:
        return sum(json_scalars(inner) for inner in value)
    return 1


@pytest.mark.parametrize("name", ["everything.xml", "bare.xml", "several_steps.xml"])
def test_no_tag_is_silently_dropped(name: str) -> None:
    notes = [note for note in good(name).notes if note.value or note.line is not None]
    places = {note.place for note in notes if note.place != "RECIPES/RECIPE"}
    assert len(places) == xml_texts((FOLDER / "good" / name).read_text(encoding="latin-1").split("?>", 1)[-1])


@pytest.mark.parametrize("name", ["everything.json", "bare.json"])
def test_no_key_is_silently_dropped(name: str) -> None:
    places = {note.place for note in good(name).notes if note.place != "beerjson.recipes[1]"}
    assert len(places) == json_scalars(json.loads((FOLDER / "good" / name).read_text(encoding="utf-8")))


def test_everything_of_a_beerxml_recipe_finds_its_place() -> None:
    recipe = good("everything.xml").recipe
    assert (recipe.name, recipe.style, recipe.batch_l, recipe.boil_min) == ("Gatehouse Red", "Red ale", 20.0, 70.0)
    assert recipe.notes == "First line.\nSecond line."
    assert recipe.efficiency_fraction == pytest.approx(0.72)
    assert [(hop.name, hop.grams, hop.use, hop.before_end_min) for hop in recipe.hops] == [
        ("Ostrey", 30.0, HopUse.BOIL, 60.0),
        ("Wrenlow", 25.0, HopUse.FIRST_WORT, None),
        ("Wrenlow", 20.0, HopUse.STAND, 20.0),
        ("Tansy Hill", 40.0, HopUse.DRY, None),
        ("Old hops", 10.0, HopUse.MASH, None),
    ]
    assert [(each.kind, each.kg, each.before_end_min) for each in recipe.fermentables] == [
        (FermentableKind.GRAIN, 4.2, None),
        (FermentableKind.ADJUNCT, 0.4, None),
        (FermentableKind.SUGAR, 0.2, 0.0),
        (FermentableKind.DRY_EXTRACT, 0.1, 15.0),
    ]
    assert recipe.fermentables[0].colour_ebc == pytest.approx(1.968504 * (1.3546 * 3.0 - 0.76))
    assert recipe.fermentables[3].extract_kg == pytest.approx(0.095)
    assert [(each.kind, each.grams, each.use) for each in recipe.additions] == [
        (AdditionKind.FINING, 5.0, AdditionUse.BOIL),
        (AdditionKind.OTHER, 3.0, AdditionUse.MASH),
        (AdditionKind.OTHER, 20.0, AdditionUse.FERMENTER),
        (AdditionKind.OTHER, 120.0, AdditionUse.PACKAGE),
    ]
    assert recipe.mash is not None
    assert recipe.mash.water_l_per_kg == 3.5
    assert recipe.mash.sparge_c == 78.0
    assert [(rest.at_c, rest.for_min) for rest in recipe.mash.rests] == [(66.0, 60.0), (76.0, 1.0)]
    assert recipe.stand is not None
    assert recipe.stand.for_min == 20.0
    assert (recipe.yeast.pitch_c, recipe.yeast.attenuation_fraction, recipe.yeast.cells_billion) == (19.0, 0.76, 115.0)
    assert recipe.targets.original_sg == 1.055


def test_doubts_of_a_beerxml_recipe_are_named() -> None:
    imported = good("everything.xml")
    doubtful, ignored = verdicts(imported, Verdict.DOUBTFUL), verdicts(imported, Verdict.IGNORED)
    assert {"EFFICIENCY", "OG", "HOPS/HOP[3]/USE", "MISCS/MISC[2]/AMOUNT", "MASH/SPARGE_TEMP"} <= doubtful.keys()
    assert doubtful["HOPS/HOP[6]/AMOUNT"] == "is none of it: left out"
    assert doubtful["YEASTS/YEAST[2]/NAME"] == "only the first is used"
    assert ignored["HOUSE_HABIT"] == "is not known here"
    assert ignored["EST_ABV"] == "is for display, not for import"


def test_everything_of_a_beerjson_recipe_finds_its_place() -> None:
    recipe = good("everything.json").recipe
    assert recipe.batch_l == pytest.approx(18.92706)  # 5 US gallons
    assert [each.kind for each in recipe.fermentables] == [
        FermentableKind.GRAIN,
        FermentableKind.ADJUNCT,
        FermentableKind.SUGAR,
    ]
    assert recipe.fermentables[0].kg == pytest.approx(4.08233)  # 9 lb
    assert recipe.fermentables[1].yield_fraction == pytest.approx(0.806, abs=0.003)  # 37 of sucrose's 46.17 points
    assert [(hop.use, hop.before_end_min) for hop in recipe.hops] == [
        (HopUse.BOIL, 60.0),
        (HopUse.BOIL, 10.0),
        (HopUse.DRY, None),
    ]
    assert recipe.hops[0].grams == pytest.approx(28.3495)
    assert recipe.mash is not None
    assert recipe.mash.rests[0].at_c == pytest.approx(66.111, abs=0.001)  # 151 °F
    assert recipe.mash.rests[0].for_min == 60.0
    assert recipe.mash.sparge_c == 78.0
    assert recipe.mash.water_l_per_kg == pytest.approx(3.42, abs=0.01)
    assert recipe.yeast.pitch_c == pytest.approx(18.889, abs=0.001)
    assert recipe.yeast.cells_billion == 200.0
    assert recipe.targets.original_sg == pytest.approx(1.04837, abs=1e-5)  # 12 °P, ASBC
    assert recipe.targets.carbonation_volumes == 2.4


def test_moment_in_the_step_is_taken_as_time_before_the_end_and_said_so() -> None:
    doubtful = verdicts(good("everything.json"), Verdict.DOUBTFUL)
    place = "beerjson.recipes[1].ingredients.hop_additions[2].timing.time.value"
    assert "as converters write it" in doubtful[place]


@pytest.mark.parametrize("name", ["bare.xml", "bare.json"])
def test_what_nobody_wrote_is_assumed_and_said(name: str) -> None:
    imported = good(name)
    assert imported.recipe.mash is not None
    assert [(rest.at_c, rest.for_min) for rest in imported.recipe.mash.rests] == [(66.0, 60.0)]
    assert imported.recipe.yeast.pitch_c == 19.0
    assumed = [note.why for note in imported.notes if note.why.endswith("assumed")]
    assert len(assumed) >= 3


def test_extract_needs_no_mash_and_a_lager_is_pitched_cold() -> None:
    recipe = good("extract_only.xml").recipe
    assert recipe.mash is None
    assert recipe.fermentables[0].extract_kg == pytest.approx(1.5 * 0.78)
    assert (recipe.yeast.kind, recipe.yeast.pitch_c) == (YeastKind.LAGER, 10.0)


def test_a_later_step_with_water_of_its_own_is_an_infusion_and_a_decoction_is_heated() -> None:
    imported = good("several_steps.xml")
    assert imported.recipe.mash is not None
    assert [(rest.at_c, rest.by) for rest in imported.recipe.mash.rests] == [
        (50.0, Way.HEAT),
        (63.0, Way.INFUSION),
        (72.0, Way.HEAT),
    ]
    assert imported.recipe.mash.water_l_per_kg == 3.0
    doubtful = verdicts(imported, Verdict.DOUBTFUL)
    assert "MASH/MASH_STEPS/MASH_STEP[2]/TYPE" not in doubtful
    assert "MASH/MASH_STEPS/MASH_STEP[3]/TYPE" in doubtful


def test_an_infusion_of_beerjson_says_how_hot_its_water_is(tmp_path: Path) -> None:
    data = json.loads((FOLDER / "good" / "everything.json").read_text())
    step = data["beerjson"]["recipes"][0]["mash"]["mash_steps"][1]
    step |= {
        "type": "infusion",
        "amount": {"unit": "l", "value": 4},
        "infuse_temperature": {"unit": "F", "value": 200},
    }
    path = tmp_path / "it.json"
    path.write_text(json.dumps(data))
    (imported,) = import_recipes(path)
    assert imported.recipe.mash is not None
    assert imported.recipe.mash.rests[1].by is Way.INFUSION
    assert imported.recipe.mash.infusion_c == pytest.approx(93.333, abs=1e-3)


@pytest.mark.parametrize("name", ["utf_16.xml", "byte_order_mark.xml"])
def test_marks_of_unicode_are_understood(name: str) -> None:
    assert good(name).recipe.name == "Größte Brühe für Zoë"


@pytest.mark.parametrize("encoding", ["ISO-8859-1", "windows-1252", "UTF-8", "UTF-16"])
def test_encodings_are_read_as_declared(encoding: str, tmp_path: Path) -> None:
    bare = (FOLDER / "good" / "bare.xml").read_text(encoding="utf-8")
    text = f'<?xml version="1.0" encoding="{encoding}"?>\n' + bare.replace("Bare", "Größte Brühe für Zoë")
    path = tmp_path / "it.xml"
    path.write_bytes(text.encode(encoding))
    (imported,) = import_recipes(path)
    assert imported.recipe.name == "Größte Brühe für Zoë"


def test_several_recipes_of_one_file_are_several() -> None:
    assert [each.recipe.name for each in import_recipes(FOLDER / "good" / "two_recipes.xml")] == ["Bare", "Barer"]


UNITS = {
    ("batch_size", "l"): 10.0,
    ("batch_size", "ml"): 0.01,
    ("batch_size", "gal"): 37.85412,
    ("batch_size", "qt"): 9.463529,
    ("batch_size", "pt"): 4.731765,
    ("batch_size", "igal"): 45.4609,
    ("batch_size", "iqt"): 11.365225,
    ("batch_size", "ipt"): 5.682613,
    ("batch_size", "cup"): 2.365882,
}
"""Ten of each in litres: NIST SP 811, appendix B."""


@pytest.mark.parametrize(("key", "unit"), [pair for pair, litres in UNITS.items() if litres >= 1.0])
def test_volumes_are_those_of_nist(key: str, unit: str, tmp_path: Path) -> None:
    data = json.loads((FOLDER / "good" / "bare.json").read_text())
    data["beerjson"]["recipes"][0][key] = {"unit": unit, "value": 10}
    path = tmp_path / "it.json"
    path.write_text(json.dumps(data))
    assert import_recipes(path)[0].recipe.batch_l == pytest.approx(UNITS[key, unit], rel=1e-6)


@pytest.mark.parametrize(("unit", "kg"), [("kg", 2.0), ("g", 0.002), ("lb", 0.90718474), ("oz", 0.0566990463)])
def test_masses_are_those_of_nist(unit: str, kg: float, tmp_path: Path) -> None:
    data = json.loads((FOLDER / "good" / "bare.json").read_text())
    value = 2 if kg >= 0.005 else 2000
    amount = {"unit": unit, "value": value}
    data["beerjson"]["recipes"][0]["ingredients"]["fermentable_additions"][0]["amount"] = amount
    path = tmp_path / "it.json"
    path.write_text(json.dumps(data))
    assert import_recipes(path)[0].recipe.fermentables[0].kg == pytest.approx(kg * value / 2)


MOST_CPU_S = 2.0
"""Of this process alone, so that a busy machine is no failure; 0.2 s at most when it was measured."""
MOST_BYTES = 6_000_000
"""4.1 MB at most when it was measured: a file is read to 1 MiB, and no further."""
MOST_RESIDENT_KB = 16_000
"""The same with what libraries in C take, in a process of its own."""


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_file_is_refused_quickly_and_without_the_memory(name: str, tmp_path: Path) -> None:
    path = hostile(tmp_path, name)
    tracemalloc.start()
    begun_s = time.process_time()
    try:
        words = refusal(path)
        lasted_s = time.process_time() - begun_s
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert len(words) < 500
    assert ELSEWHERE not in words
    assert lasted_s < MOST_CPU_S
    assert peak < MOST_BYTES


@pytest.mark.parametrize("name", ["many_objects.json", "many_lists.json"])
def test_to_parse_such_a_file_would_take_more_than_that(name: str, tmp_path: Path) -> None:
    """Else the bound above would say nothing."""
    text = hostile(tmp_path, name).read_text()
    tracemalloc.start()
    json.loads(text)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak > 2 * MOST_BYTES


REFUSE_ALL = """
import resource, sys
from kettlebridge.files.recipe_import import import_recipes
from kettlebridge.model.errors import FileError
good, *hostile = sys.argv[1:]
import_recipes(good)
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
for path in hostile:
    try:
        import_recipes(path)
    except FileError:
        continue
    sys.exit(f"{path} was not refused")
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before)
"""


def test_a_process_that_refuses_them_all_grows_by_a_few_megabytes(tmp_path: Path) -> None:
    """By the system's own count. Libraries in C, as the XML parser, are not in Python's."""
    paths = [str(hostile(tmp_path, name)) for name in HOSTILE]
    good = str(FOLDER / "good" / "bare.json")
    done = subprocess.run([sys.executable, "-c", REFUSE_ALL, good, *paths], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert int(done.stdout) < MOST_RESIDENT_KB


def test_text_that_would_steer_a_terminal_is_not_passed_on(tmp_path: Path) -> None:
    data = json.loads((FOLDER / "good" / "bare.json").read_text())
    recipe = data["beerjson"]["recipes"][0]
    recipe["name"] = "Red\u001b[2J\ud800 ale"
    recipe["habit"] = "\u001b]0;hi\u0007"
    path = tmp_path / "it.json"
    path.write_text(json.dumps(data))
    (imported,) = import_recipes(path)
    assert imported.recipe.name == "Red[2J ale"
    assert all(note.value.isprintable() for note in imported.notes)


def test_folder_is_no_recipe(tmp_path: Path) -> None:
    assert "is a folder" in refusal(tmp_path)
