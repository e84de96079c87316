"""A few kettles of a family brought to the boil, as a smoke: a seed of its own, bounds with room to spare."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import pytest

from kettlebridge.cli.exits import DONE
from kettlebridge.cli.main import main
from kettlebridge.simulated.family.boil_course import Boil, boiled, wort_of
from kettlebridge.simulated.family.boil_hands import FullPower, Service
from kettlebridge.simulated.family.boil_metrics import BOIL_METRICS, WAYS
from kettlebridge.simulated.family.draw import drawn

SEED = 5
KETTLES = 12


@pytest.fixture(scope="module")
def boils() -> list[Boil]:
    worts = [wort_of(drawn(number, SEED), lid_stays=False) for number in range(KETTLES)]
    return [boiled(wort, Service(wort)) for wort in worts]


@pytest.mark.slow
def test_strong_kettles_are_dated_to_their_boil(boils: list[Boil]) -> None:
    easy = [boil for boil in boils if boil.boils_s is not None and boil.net_fraction >= 0.35]
    assert len(easy) >= 3
    for boil in easy:
        assert boil.dated_s is not None
        assert boil.boils_s is not None
        assert abs(boil.dated_s - boil.boils_s) < 150.0


@pytest.mark.slow
def test_no_kettle_is_called_boiling_that_only_stands_still(boils: list[Boil]) -> None:
    weak = [boil for boil in boils if boil.net_fraction < 0.35]
    assert len(weak) >= 3
    assert all(boil.called_under_c is None or boil.called_under_c < 1.0 for boil in boils)


def test_a_boil_told_late_is_judged_by_its_date() -> None:
    wort = wort_of(drawn(0, SEED), lid_stays=True)
    boil = Boil(
        wort=wort,
        boils_s=1000.0,
        called_s=1170.0,
        dated_s=1040.0,
        called_under_c=0.0,
        net_fraction=0.5,
        boiled_over_l=0.0,
        hottest_element_c=130.0,
        highest_foam_fraction=0.5,
    )
    of = {metric.key: metric.of for metric in BOIL_METRICS}
    assert (of["called_s"](boil), of["error_s"](boil), of["within_90_s"](boil)) == (170.0, 40.0, 1.0)
    assert of["within_90_s"](replace(boil, dated_s=1091.0)) == 0.0
    assert of["uncalled"](replace(boil, called_s=None, dated_s=None)) == 1.0


@pytest.mark.slow
def test_what_the_service_does_spills_less_than_full_power(boils: list[Boil]) -> None:
    nobody = [boiled(boil.wort, FullPower(boil.wort)) for boil in boils]
    ours, theirs = (math.fsum(boil.boiled_over_l for boil in them) for them in (boils, nobody))
    assert theirs > 0.1
    assert ours < 0.5 * theirs


def test_json_has_every_way_with_the_lid_on_and_off(capsys: pytest.CaptureFixture[str]) -> None:
    asked = ["bench", "--family", "1", "--seed", "5", "--jobs", "1", "--json", "--boil", "--regulator", "thermostat"]
    assert main(asked) == DONE
    told = json.loads(capsys.readouterr().out)
    assert set(told["boil"]) == {f"{way}/{lid}" for way in WAYS for lid in ("lid_on", "lid_off")}
    assert set(told["boil"]["service/lid_off"]) == {metric.key for metric in BOIL_METRICS}
