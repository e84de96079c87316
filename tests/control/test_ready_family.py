"""When strike water is ready, foretold for a few kettles of a family: bounds with room to spare."""

from __future__ import annotations

import json

import pytest

from kettlebridge.cli.exits import DONE
from kettlebridge.cli.family.draw import drawn
from kettlebridge.cli.family.ready import COLUMNS, READY_METRICS, heated, ready_figures
from kettlebridge.cli.main import main

SEED = 5
KETTLES = 6


@pytest.fixture(scope="module")
def figures() -> list[dict[str, dict[str, float | None]]]:
    return [ready_figures(drawn(number, SEED)) for number in range(KETTLES)]


def worst(figures: list[dict[str, dict[str, float | None]]], column: str, metric: str) -> float:
    known = [each[column][metric] for each in figures if metric in each[column]]
    return max(60.0 if error is None else error for error in known)


@pytest.mark.slow
def test_what_a_kettle_has_taught_foretells_its_next_heat_up(
    figures: list[dict[str, dict[str, float | None]]],
) -> None:
    assert worst(figures, "learnt", "needed_error_min") < 6.0
    assert worst(figures, "learnt", "ready_error_min") < 6.0


@pytest.mark.slow
def test_the_longer_it_heats_the_better_it_is_known(figures: list[dict[str, dict[str, float | None]]]) -> None:
    assert worst(figures, "live_10", "needed_error_min") < 4.0
    assert worst(figures, "live_20", "needed_error_min") < worst(figures, "nameplate", "needed_error_min")


def test_a_heat_up_teaches_and_is_foretold_from_its_first_seconds() -> None:
    day = heated(drawn(1, SEED), None)
    assert day.ready_s is not None
    assert day.needed_s is not None
    assert day.learnt is not None
    assert day.learnt.heat_ups == 1
    assert min(day.told) < 10.0


def test_json_has_the_forecast_beside_the_regulators(capsys: pytest.CaptureFixture[str]) -> None:
    asked = ["bench", "--family", "1", "--seed", "5", "--jobs", "1", "--json", "--ready", "--regulator", "thermostat"]
    assert main(asked) == DONE
    told = json.loads(capsys.readouterr().out)
    assert set(told["results"]) == {"thermostat", *(f"forecast_{name}" for name in COLUMNS)}
    assert set(told["results"]["forecast_learnt"]) == {metric.key for metric in READY_METRICS}
    assert set(told["regulators"]) == {"thermostat"}
