"""The printed brew sheet: one file, whole, safe, and what it must say."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from kettlebridge.brewing.brew_sheet import brew_sheet
from kettlebridge.brewing.day import Day
from kettlebridge.brewing.marks import MarkKind
from kettlebridge.brewing.timetable import Phase
from kettlebridge.documents.sheet import sheet_page
from kettlebridge.documents.sheet_json import sheet_values
from kettlebridge.documents.sheet_sections import MARK_WORDS, PHASE_WORDS, USE_WORDS, sections
from kettlebridge.model.recipe import AdditionUse, HopUse
from tests.brewing.sheets import every_pair, kettle, recipe, sheet

PAIRS = {"scale": ("corvane_pale", "saddle"), "none": ("wick_mild", "thimble")}
VOID = frozenset({"meta", "link", "img", "br"})


class Reader(HTMLParser):
    """Opens and closes what a page opens and closes."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: set[str] = set()
        self.links: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.links += [value or "" for name, value in attrs if name in {"src", "href"}]
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


@pytest.mark.parametrize(("recipe_name", "kettle_name"), every_pair())
def test_page_is_well_formed_and_asks_for_nothing_outside_itself(recipe_name: str, kettle_name: str) -> None:
    page = sheet_page(sheet(recipe_name, kettle_name))
    reader = Reader()
    reader.feed(page)
    assert reader.open == []
    assert reader.links == []
    assert not reader.tags & {"script", "link", "img", "iframe", "object"}
    assert "url(" not in page
    assert "@import" not in page
    assert "size: A4" in page
    assert len(page.encode()) < 20_000


def test_name_that_looks_like_markup_stays_text() -> None:
    nasty = replace(recipe("wick_mild"), name="<script>alert(1)</script>", notes="<b>&")
    page = sheet_page(brew_sheet(nasty, kettle("thimble"), Day()))
    assert "<script" not in page
    assert "&lt;script&gt;" in page
    assert "&lt;b&gt;&amp;" in page


def test_sheet_says_what_a_brewer_needs() -> None:
    text = re.sub(r"<[^>]+>", " ", sheet_page(sheet("corvane_pale", "saddle")))
    found = sheet("corvane_pale", "saddle")
    assert found.strike is not None
    assert found.lift is not None
    wanted = (
        f"{found.water.fill_l:.1f} L",
        f"{found.strike.water_c:.1f} °C",
        f"{found.water.sparge_l:.1f} L of 75 °C",
        f"{found.lift.undrained_kg:.1f} kg",
        f"{found.gravities.original_sg:.3f}",
        f"{found.bitterness_ibu:.0f} IBU",
        "Calcium sulphate",
        "not counted",
    )
    assert [words for words in wanted if words not in text] == []


def test_clock_runs_back_from_the_ready_time_and_over_midnight() -> None:
    early = brew_sheet(recipe("wick_mild"), kettle("thimble"), Day(ready_min=10.0))
    day = next(section for section in sections(early) if section.title == "The day")
    times = {row[0]: row[1] for row in day.rows}
    assert times["Grain in, stir"] == "00:10"
    assert times["Fill"].startswith("23:")


def test_without_a_ready_time_the_day_counts_from_its_begin() -> None:
    day = next(section for section in sections(sheet("wick_mild", "thimble")) if section.title == "The day")
    assert day.rows[0][1] == "+0:00"
    assert day.rows[1][1] == "+0:10"


def test_electricity_has_a_price_when_it_is_told() -> None:
    priced = brew_sheet(recipe("wick_mild"), kettle("thimble"), Day(price_per_kwh=0.5))
    assert f"costs {priced.energy_kwh * 0.5:.2f}" in sheet_page(priced)


def test_every_word_is_there() -> None:
    assert set(PHASE_WORDS) == set(Phase)
    assert set(MARK_WORDS) == set(MarkKind)
    assert set(USE_WORDS) == {*HopUse, *AdditionUse}


@pytest.mark.parametrize(("recipe_name", "kettle_name"), every_pair())
def test_values_are_plain_json(recipe_name: str, kettle_name: str) -> None:
    found = sheet(recipe_name, kettle_name)
    values = json.loads(json.dumps(sheet_values(found), allow_nan=False))
    assert values["litres"]["total_water_l"] == pytest.approx(found.litres.total_water_l)
    assert values["gravities"]["original_sg"] == pytest.approx(found.gravities.original_sg)
    assert [each["phase"] for each in values["slots"]] == [slot.phase.value for slot in found.slots]


def test_levels_say_centimetres_where_the_kettle_has_a_scale() -> None:
    levels = {
        name: next(each for each in sections(sheet(*pair)) if each.title == "Levels") for name, pair in PAIRS.items()
    }
    assert all(row[1].endswith(" cm") for row in levels["scale"].rows)
    assert not any("cm" in row[1] for row in levels["none"].rows)


def test_hands_and_free_time_are_the_whole_day() -> None:
    found = sheet("corvane_pale", "saddle")
    day = next(section for section in sections(found) if section.title == "The day")
    hours = {row[0]: row[2] for row in day.rows}
    parts = (hours["Hands, beside additions"], hours["Free, within call"])
    minutes = sum(60 * int(part.split(" h ")[0]) + int(part.split(" h ")[1]) for part in parts)
    assert minutes == pytest.approx(found.slots[-1].end_min, abs=1.0)


def test_yeast_is_told_in_cells_and_in_grams_of_dry_yeast() -> None:
    found = sheet("corvane_pale", "saddle")
    rows = {row[0]: row[1] for row in sections(found)[0].rows}
    billion = re.fullmatch(r"(\d+) billion, (\d+) g dry", rows["Yeast wanted"])
    assert billion is not None
    assert int(billion[1]) / int(billion[2]) == pytest.approx(10.0, rel=0.05)  # of whole grams; a gram holds 10 billion


def test_sugar_for_the_bottles_is_that_for_the_recipes_gas() -> None:
    """514 g of gas from a kilogram of sucrose (stoichiometry), 1.977 g in a litre of gas (Span and Wagner)."""
    found = sheet("corvane_pale", "saddle")
    rows = {row[0]: row[1] for row in sections(found)[0].rows}
    assert found.priming_g is not None
    assert rows["Sugar into bottles for 2.4 volumes of gas"] == f"{found.priming_g:.0f} g"
    assert rows["... if it never was warmer than"] == "18 °C"
    there = 2.4 - found.priming_g * 0.514285 / 1.976813 / found.recipe.batch_l
    assert there == pytest.approx(0.890, abs=0.004)  # volumes in water of 18 °C: IAPWS G7-04, iapws 1.5.5
    assert sheet_values(found)["priming_g"] == found.priming_g


def test_a_recipe_without_gas_is_told_no_sugar() -> None:
    assert not any("Sugar" in row[0] for row in sections(sheet("wick_mild", "thimble"))[0].rows)
