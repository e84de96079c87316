"""Every unit that BeerJSON 1.0 and BeerXML 1.0 have for what a recipe needs, there and back."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping
from pathlib import Path

import pytest

from kettlebridge.brewing.colour import lovibond, srm
from kettlebridge.brewing.gravity import plato
from kettlebridge.files import beerjson_units as units
from kettlebridge.files.recipe_import import import_recipes

FOLDER = Path(__file__).parent / "recipes_made_by_hand"

LISTS: Mapping[str, tuple[Mapping[str, Callable[[float], float]], str]] = {
    "VolumeUnitType": (units.VOLUME_L, "ml l tsp tbsp floz cup pt qt gal bbl ifloz ipt iqt igal ibbl"),
    "MassUnitType": (units.MASS_G, "mg g kg lb oz"),
    "TemperatureUnitType": (units.TEMPERATURE_C, "C F"),
    "TimeUnitType": (units.TIME_MIN, "sec min hr day week"),
    "PercentType": (units.PERCENT, "%"),
    "ColorUnitType": (units.MALT_COLOUR_EBC, "EBC Lovi SRM"),
    "GravityUnitType": (units.GRAVITY_SG, "sg plato brix"),
    "GravityUnitType of a potential": (units.POTENTIAL_PERCENT, "sg plato brix"),
    "BitternessUnitType": (units.BITTERNESS_IBU, "IBUs"),
    "CarbonationUnitType": (units.CARBONATION_VOLUMES, "vols g/l"),
}
"""Lists of measurable_units.json, github.com/beerjson/beerjson 1.0.2 (MIT)."""


@pytest.mark.parametrize("name", LISTS)
def test_every_unit_of_the_standards_lists_is_understood_and_no_other(name: str) -> None:
    table, listed = LISTS[name]
    assert set(table) == set(listed.split())


def _divided(one: float) -> Callable[[float], float]:
    return lambda value: value / one


def _sg_of(percent: float) -> float:
    low, high = 1.0, 1.2
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (middle, high) if plato(middle) < percent / 100.0 * 11.4750 else (low, middle)
    return low


BACK: Mapping[tuple[str, str], Callable[[float], float]] = {
    ("TemperatureUnitType", "F"): lambda at_c: at_c * 9.0 / 5.0 + 32.0,
    ("ColorUnitType", "Lovi"): lovibond,
    ("ColorUnitType", "SRM"): srm,
    ("GravityUnitType", "plato"): plato,
    ("GravityUnitType", "brix"): plato,
    ("GravityUnitType of a potential", "sg"): _sg_of,
    ("GravityUnitType of a potential", "plato"): lambda percent: percent / 100.0 * 11.4750,
    ("GravityUnitType of a potential", "brix"): lambda percent: percent / 100.0 * 11.4750,
}
"""The way back, written by itself; 11.4750 °P is a pound of sucrose in a US gallon (ASBC)."""

ONES = {
    "ml": 0.001, "l": 1.0, "tsp": 0.00492892159375, "tbsp": 0.01478676478125, "floz": 0.0295735295625,
    "cup": 0.2365882365, "pt": 0.473176473, "qt": 0.946352946, "gal": 3.785411784, "bbl": 117.347765304,
    "ifloz": 0.0284130625, "ipt": 0.56826125, "iqt": 1.1365225, "igal": 4.54609, "ibbl": 163.65924,
    "mg": 0.001, "g": 1.0, "kg": 1000.0, "lb": 453.59237, "oz": 28.349523125,
    "sec": 1.0 / 60.0, "min": 1.0, "hr": 60.0, "day": 1440.0, "week": 10080.0,
    "%": 1.0, "C": 1.0, "EBC": 1.0, "sg": 1.0, "IBUs": 1.0, "vols": 1.0, "g/l": 1.0 / 1.976813,
}  # fmt: skip
"""One of each in litres, grams, minutes and so on: NIST SP 811 (2008), appendix B; UK Weights and Measures Act 1985."""

TRIED = {"GravityUnitType": (1.010, 1.048, 1.110), "ColorUnitType": (3.0, 40.0, 800.0)}
PAIRS = [(name, unit) for name, (table, _) in LISTS.items() for unit in table]


@pytest.mark.parametrize(("name", "unit"), PAIRS)
def test_what_goes_there_comes_back(name: str, unit: str) -> None:
    convert = LISTS[name][0][unit]
    back = BACK.get((name, unit)) or _divided(ONES.get(unit, 1.0))
    tried = TRIED.get(name, (0.5, 7.0, 95.0))
    if name.startswith("GravityUnitType"):
        tried = (1.020, 1.037, 1.046) if unit == "sg" else (5.0, 9.0, 11.4)
    for value in tried:
        assert back(convert(value)) == pytest.approx(value, rel=6e-5)  # as far as 1.04617 has digits
        assert math.isfinite(convert(value))


@pytest.mark.parametrize(("unit", "amount"), [(unit, 12.0 / ONES[unit]) for unit in LISTS["VolumeUnitType"][0]])
def test_twelve_litres_are_twelve_litres_in_every_unit(unit: str, amount: float, tmp_path: Path) -> None:
    """Through the whole importer, to the last digit that a recipe file has."""
    data = json.loads((FOLDER / "good" / "bare.json").read_text())
    data["beerjson"]["recipes"][0]["batch_size"] = {"unit": unit, "value": amount}
    path = tmp_path / "it.json"
    path.write_text(json.dumps(data))
    assert import_recipes(path)[0].recipe.batch_l == pytest.approx(12.0, rel=1e-8)


@pytest.mark.parametrize(("unit", "amount"), [(unit, 3000.0 / ONES[unit]) for unit in LISTS["MassUnitType"][0]])
def test_three_kilograms_are_three_kilograms_in_every_unit(unit: str, amount: float, tmp_path: Path) -> None:
    data = json.loads((FOLDER / "good" / "bare.json").read_text())
    recipe = data["beerjson"]["recipes"][0]
    recipe["ingredients"]["fermentable_additions"][0]["amount"] = {"unit": unit, "value": amount}
    path = tmp_path / "it.json"
    path.write_text(json.dumps(data))
    assert import_recipes(path)[0].recipe.fermentables[0].kg == pytest.approx(3.0, rel=1e-8)


@pytest.mark.parametrize("unit", ["min", "hr", "sec", "day", "week"])
def test_a_boil_in_every_unit_of_time_is_as_long(unit: str, tmp_path: Path) -> None:
    data = json.loads((FOLDER / "good" / "bare.json").read_text())
    data["beerjson"]["recipes"][0]["boil"] = {"boil_time": {"unit": unit, "value": 60.0 / ONES[unit]}}
    path = tmp_path / "it.json"
    path.write_text(json.dumps(data))
    assert import_recipes(path)[0].recipe.boil_min == pytest.approx(60.0, rel=1e-8)
