"""A few kettles of a family brought to the boil, as a smoke: a seed of its own, bounds with room to spare."""

from __future__ import annotations

import json
import math

import pytest

from kettlebridge.cli.exits import DONE
from kettlebridge.cli.family.boil_course import Boil, boiled, wort_of
from kettlebridge.cli.family.boil_hands import FullPower, Service
from kettlebridge.cli.family.boil_metrics import BOIL_METRICS, WAYS
from kettlebridge.cli.family.draw import drawn
from kettlebridge.cli.main import main

SEED = 5
KETTLES = 12


@pytest.fixture(scope="module")
def boils() -> list[Boil]:
    worts = [wort_of(drawn(number, SEED), lid_stays=False) for number in range(KETTLES)]
    return [boiled(wort, Service(wort)) for wort in worts]


@pytest.mark.slow
def test_strong_kettles_are_called_boiling_near_the_time_and_never_falsely(boils: list[Boil]) -> None:
    easy = [boil for boil in boils if boil.boils_s is not None and boil.net_fraction >= 0.35]
    assert len(easy) >= 3
    called = [boil for boil in easy if boil.called_s is not None]
    assert len(called) >= len(easy) - 1
    for boil in called:
        assert boil.called_s is not None
        assert boil.boils_s is not None
        assert abs(boil.called_s - boil.boils_s) < 300.0
        assert boil.called_under_c is not None
        assert boil.called_under_c < 1.0


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
