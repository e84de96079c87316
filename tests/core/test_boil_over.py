"""The risk of boiling over, and what a hot break is given for it."""

from __future__ import annotations

import pytest

from kettlebridge.core.boil_over import Pot, Risk, risk
from kettlebridge.core.snapshot import snapshot
from kettlebridge.model.ids import BatchId
from kettlebridge.model.plan import BoilStep
from tests.core.bench_kettle import BenchKettle, plan_of

CALM = Pot(
    capacity_l=40.0, volume_l=24.0, power_w=2000.0, under_c=0.0, rise_c_per_min=0.0, boiled_s=1800.0, added_s=None
)


def test_a_long_boil_with_room_over_it_is_no_risk() -> None:
    assert risk(CALM) is Risk.LOW


@pytest.mark.parametrize(
    ("changed", "least"),
    [
        ({"volume_l": 32.0}, Risk.RAISED),
        ({"volume_l": 36.0, "boiled_s": 0.0}, Risk.HIGH),
        ({"volume_l": 28.0, "boiled_s": 0.0, "rise_c_per_min": 1.5}, Risk.RAISED),
        ({"volume_l": 32.0, "added_s": 30.0}, Risk.HIGH),
    ],
)
def test_little_room_a_fast_approach_and_additions_raise_it(changed: dict[str, float], least: Risk) -> None:
    assert risk(CALM._replace(**changed)) is least


def test_without_heat_or_far_from_the_boil_there_is_none() -> None:
    full = CALM._replace(volume_l=38.0, boiled_s=0.0)
    assert risk(full) is Risk.HIGH
    assert risk(full._replace(power_w=0.0)) is Risk.LOW
    assert risk(full._replace(under_c=10.0)) is Risk.LOW


def test_the_snapshot_tells_it_where_something_may_foam_and_nowhere_else() -> None:
    boil = BoilStep(name="boil", for_min=60.0)
    bench = BenchKettle(plan_of(boil), liquid_c=97.0, stage="approach", volume_l=27.0)
    bench.run(5)
    assert snapshot(bench.plan, BatchId("b"), bench.state).boil_over == "high"
    roomy = BenchKettle(plan_of(boil), liquid_c=60.0, stage="climb", volume_l=20.0)
    roomy.run(5)
    assert snapshot(roomy.plan, BatchId("b"), roomy.state).boil_over is None
