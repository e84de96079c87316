"""When strike water is ready, foretold for a few kettles of a family: bounds with room to spare."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from kettlebridge.cli.exits import DONE
from kettlebridge.cli.main import main
from kettlebridge.model.learnt import Learnt
from kettlebridge.simulated.family import ready
from kettlebridge.simulated.family.draw import Member, drawn
from kettlebridge.simulated.family.ready import BREWS_BEFORE, COLUMNS, READY_METRICS, HeatUp, heated, ready_figures

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


def test_once_it_is_ready_nothing_is_foretold_any_more(monkeypatch: pytest.MonkeyPatch) -> None:
    """Asked in every second, also in those between being ready and calling for the grain."""
    monkeypatch.setattr(ready, "TOLD_AT_S", tuple(float(second) for second in range(3600)))
    member = drawn(1, SEED)
    day = heated(replace(member, strike_c=member.water_c + 8.0), None)
    assert day.ready_s is not None
    assert day.needed_s is not None
    assert max(day.told) <= day.ready_s < day.needed_s - 5.0


READY_S, NEEDED_S = 1500.0, 1620.0
TOLD_UNTAUGHT = {5.0: (1200.0, 1260.0), 600.0: (1560.0, 1590.0), 1200.0: (1494.0, 1632.0)}
TOLD_TAUGHT = {5.0: (1440.0, 1740.0), 600.0: (1518.0, 1614.0), 1200.0: (1500.0, 1620.0)}


class Heatings:
    """In place of heat-ups: what each was given, and one that is as told above. Each teaches one more."""

    def __init__(self, *, ready_s: float | None = READY_S, untaught: dict[float, tuple[float, float]]) -> None:
        self.given: list[tuple[Member, int]] = []
        self.ready_s = ready_s
        self.untaught = untaught

    def __call__(self, member: Member, learnt: Learnt | None) -> HeatUp:
        taught = 0 if learnt is None else learnt.heat_ups
        self.given.append((member, taught))
        told = self.untaught if learnt is None else TOLD_TAUGHT
        now = replace(LEARNT, heat_ups=taught + 1)
        return HeatUp(ready_s=self.ready_s, needed_s=NEEDED_S, told=told, learnt=now)


LEARNT = Learnt(
    rate_fraction=1.0,
    rate_spread=0.1,
    loss_w_per_k=3.0,
    loss_spread_w_per_k=1.0,
    delay_s=20.0,
    delay_spread_s=5.0,
    stratification_c=0.5,
    stratification_spread_c=0.2,
    learnt_at_utc_s=0.0,
    heat_ups=1,
)


def test_each_column_takes_what_was_told_then_by_what_was_known_then(monkeypatch: pytest.MonkeyPatch) -> None:
    """Minutes off, ready and needed: too early counts as much as too late."""
    heatings = Heatings(untaught=TOLD_UNTAUGHT)
    monkeypatch.setattr(ready, "heated", heatings)
    expected = {
        "nameplate": (5.0, 6.0),
        "learnt": (1.0, 2.0),
        "live_10": (1.0, 0.5),
        "live_20": (0.1, 0.2),
        "learnt_10": (0.3, 0.1),
    }
    member = drawn(1, SEED)
    assert set(expected) == set(COLUMNS)
    for column, figures in ready_figures(member).items():
        assert tuple(figures.values()) == pytest.approx(expected[column]), column
        assert tuple(figures) == ("ready_error_min", "needed_error_min")


def test_a_kettle_is_taught_by_three_other_brews_one_after_the_other(monkeypatch: pytest.MonkeyPatch) -> None:
    heatings = Heatings(untaught=TOLD_UNTAUGHT)
    monkeypatch.setattr(ready, "heated", heatings)
    member = drawn(1, SEED)
    ready_figures(member)
    brews, days = heatings.given[:BREWS_BEFORE], heatings.given[BREWS_BEFORE:]
    assert [taught for _, taught in brews] == [0, 1, 2]
    assert len({brew.litres for brew, _ in brews} | {member.litres}) == 4
    assert all(brew.kettle == member.kettle for brew, _ in brews)
    assert days == [(member, 0), (member, 3)]


def test_a_column_that_came_too_late_is_left_out_and_one_never_ready_is_none(monkeypatch: pytest.MonkeyPatch) -> None:
    early = {after_s: told for after_s, told in TOLD_UNTAUGHT.items() if after_s < 1200.0}
    monkeypatch.setattr(ready, "heated", Heatings(untaught=early))
    figures = ready_figures(drawn(1, SEED))
    assert figures["live_20"] == {}
    assert figures["live_10"] != {}
    monkeypatch.setattr(ready, "heated", Heatings(untaught=early, ready_s=None))
    assert all(value is None for column in ready_figures(drawn(1, SEED)).values() for value in column.values())


def test_json_has_the_forecast_beside_the_regulators(capsys: pytest.CaptureFixture[str]) -> None:
    asked = ["bench", "--family", "1", "--seed", "5", "--jobs", "1", "--json", "--ready", "--regulator", "thermostat"]
    assert main(asked) == DONE
    told = json.loads(capsys.readouterr().out)
    assert set(told["results"]) == {"thermostat", *(f"forecast_{name}" for name in COLUMNS)}
    assert set(told["results"]["forecast_learnt"]) == {metric.key for metric in READY_METRICS}
    assert set(told["regulators"]) == {"thermostat"}
