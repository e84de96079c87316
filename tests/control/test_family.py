"""A small family on the simulator, as a smoke: seed and size of its own, bounds with room to spare."""

from __future__ import annotations

import json
from xml.etree import ElementTree as ET  # reads what this test just drew

import pytest

from kettlebridge.cli.exits import DONE, USAGE
from kettlebridge.cli.family_bench import Results, lived, summarised
from kettlebridge.cli.main import main
from kettlebridge.simulated.family.course import energy_bound_s
from kettlebridge.simulated.family.draw import drawn
from kettlebridge.simulated.family.metrics import METRICS
from kettlebridge.simulated.family.picture import PANELS, picture
from kettlebridge.simulated.family.rank import quantile, summary
from kettlebridge.simulated.family.regulators import REGULATORS

KETTLES = 8
SEED = 5
NAMES = ("thermostat", "pid_a", "simc", "model_probe", "model")


@pytest.fixture(scope="module")
def results() -> Results:
    return summarised(lived(KETTLES, SEED, NAMES, jobs=1), NAMES)


def p95(results: Results, regulator: str, metric: str) -> float:
    one = results[regulator][metric]
    assert one.p95 is not None
    return one.p95


@pytest.mark.slow
@pytest.mark.parametrize(
    ("metric", "bound"),
    [
        ("strike_overshoot_bulk_c", 0.3),
        ("strike_overshoot_probe_c", 0.9),
        ("strike_settle_over_bound", 1.06),
        ("rest_hold_rms_ssr_c", 0.06),
        ("rest_hold_rms_contactor_c", 0.6),
        ("rest_bed_rms_c", 0.8),
        ("ramp_overshoot_bed_c", 0.9),
        ("bed_there_s", 1200.0),
    ],
)
def test_the_default_regulator_keeps_its_goals_with_room(results: Results, metric: str, bound: float) -> None:
    assert p95(results, "model", metric) < bound
    assert results["model"][metric].failed == 0


@pytest.mark.slow
def test_a_probe_referenced_ramp_overshoots_little(results: Results) -> None:
    assert p95(results, "model_probe", "ramp_overshoot_probe_ssr_c") < 0.3
    assert p95(results, "model_probe", "ramp_overshoot_bed_c") < 0.1


@pytest.mark.slow
@pytest.mark.parametrize("rival", ["thermostat", "pid_a", "simc"])
def test_the_default_regulator_is_there_first_and_keeps_the_bed_nearest(results: Results, rival: str) -> None:
    for metric in ("strike_iae_c_min", "rest_bed_rms_c"):
        ours, theirs = (results[name][metric].median for name in ("model", rival))
        assert ours is not None
        assert theirs is not None
        assert ours < theirs
    assert results["model"]["strike_settle_over_bound"].failed <= results[rival]["strike_settle_over_bound"].failed


@pytest.mark.slow
@pytest.mark.parametrize(("rival", "more_c"), [("thermostat", 0.0), ("pid_a", 0.0), ("simc", 0.1)])
def test_the_default_regulator_overshoots_less_than_what_people_use_and_hardly_more_than_the_plain_pid(
    results: Results, rival: str, more_c: float
) -> None:
    ours_c, theirs_c = (p95(results, name, "strike_overshoot_bulk_c") for name in ("model", rival))
    assert ours_c < theirs_c + more_c


def test_a_member_is_the_same_every_time_and_its_file_is_not_quite_true() -> None:
    one, again, other = drawn(3, SEED), drawn(3, SEED), drawn(4, SEED)
    assert one == again
    assert one.body != other.body
    assert one.kettle.heater_w != one.body.heater_w
    assert one.litres_believed != one.litres
    assert one.kettle.under_basket_l != one.body.under_basket_l


def test_the_energy_bound_is_what_power_and_litres_make_of_it() -> None:
    member = drawn(3, SEED)
    least_s = 4186.0 * member.litres * 0.998 * (member.strike_c - member.water_c)
    least_s /= member.body.heater_w * member.mains_fraction
    bound_s = energy_bound_s(member)
    assert bound_s is not None
    assert least_s < bound_s < 1.35 * least_s


def test_the_number_of_processes_changes_no_figure() -> None:
    names = ("thermostat",)
    assert list(lived(2, SEED, names, jobs=2)) == list(lived(2, SEED, names, jobs=1))


def test_json_has_every_regulator_and_metric(capsys: pytest.CaptureFixture[str]) -> None:
    asked = ["--regulator", "thermostat", "--regulator", "model"]
    assert main(["bench", "--family", "1", "--seed", "5", "--jobs", "1", "--json", *asked]) == DONE
    told = json.loads(capsys.readouterr().out)
    assert list(told["results"]) == ["thermostat", "model"]
    assert set(told["results"]["model"]) == {metric.key for metric in METRICS}
    assert set(told["results"]["model"]["bed_there_s"]) == {"median", "p95", "failed"}
    assert told["simulated"] is True
    assert set(told["regulators"]) <= set(REGULATORS)


def test_a_bench_of_nothing_is_told_what_it_may_be(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["bench"]) == USAGE
    assert "--family" in capsys.readouterr().err


def test_failures_are_counted_and_not_averaged() -> None:
    one = summary([1.0, None, 3.0, 2.0])
    assert (one.median, one.failed) == (2.0, 1)
    assert summary([None, None]).p95 is None
    assert quantile([0.0, 10.0], 0.95) == pytest.approx(9.5)


def test_the_picture_shows_every_regulator_and_counts_failures(results: Results) -> None:
    names = {name: REGULATORS[name].words for name in results}
    drawn_svg = picture(results, {metric.key: metric.words for metric in METRICS}, names, "a <title>")
    root = ET.fromstring(drawn_svg)  # noqa: S314  # our own
    told = [text.text for text in root.iter("{http://www.w3.org/2000/svg}text")]
    assert {words for words in names.values() if told.count(words) == len(PANELS)} == set(names.values())
    assert "a <title>" in told
    assert any("failed" in (text or "") or text == "never" for text in told)
