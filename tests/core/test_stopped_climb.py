"""Where a climb that is to end under the boil is taken for stopped: within two degrees of where it last climbed."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kettlebridge.core.arming_state import NOT_ARMED
from kettlebridge.core.boil import watched_climb
from kettlebridge.core.ledger import Ledger
from kettlebridge.core.stage import Climb, Scene, StageState
from kettlebridge.core.trail import KEPT, Trail
from kettlebridge.model.plan import BoilStep
from tests.core.bench_kettle import KETTLE, plan_of

BOIL = BoilStep(name="boil", for_min=60.0)
NOW_S, BEGUN_S = 2000.0, 1000.0
LEVEL_C = 93.0


def standing(climbed_to_c: float, *, climbed_s: float = 1900.0, before_c: float = LEVEL_C) -> Scene[BoilStep]:
    """A minute at 93 °C under full power that should bring 1.8 °C, and where it was last seen to climb."""
    stage = StageState(
        name="climb",
        begun_s=BEGUN_S,
        begun_c=70.0,
        climb=Climb(seen_s=climbed_s, seen_c=climbed_to_c, at_fraction=1.0, lost_fraction=None),
    )
    return Scene(
        plan=plan_of(BOIL, kettle=replace(KETTLE, loss_w_per_k=6.0)),
        step=BOIL,
        stage=stage,
        schedule=(),
        ledger=Ledger(volume_l=20.0),
        trail=Trail(
            values_c=(before_c, *(LEVEL_C,) * (KEPT - 1)),
            duties=(1.0,) * KEPT,
            sum_c=LEVEL_C,
            duty_fraction=1.0,
            filled=1,
        ),
        control_c=LEVEL_C,
        bed_c=None,
        ambient_c=20.0,
        known=None,
        duty_fraction=1.0,
        now_s=NOW_S,
        at_utc_s=0.0,
        dt_s=1.0,
        arming=NOT_ARMED,
    )


@pytest.mark.parametrize(("climbed_to_c", "suspected"), [(93.0, True), (91.0, True), (90.99, False), (89.0, False)])
def test_what_went_on_by_more_than_two_degrees_since_it_climbed_fades_and_does_not_boil(
    climbed_to_c: float, suspected: bool
) -> None:
    assert (watched_climb(standing(climbed_to_c)).suspicion is not None) is suspected


@pytest.mark.parametrize(("before_c", "suspected"), [(93.14, True), (93.16, False)])
def test_what_fell_within_the_minute_does_not_boil(before_c: float, suspected: bool) -> None:
    assert (watched_climb(standing(92.5, before_c=before_c)).suspicion is not None) is suspected


@pytest.mark.parametrize(("climbed_s", "suspected"), [(BEGUN_S, True), (BEGUN_S - 0.1, False)])
def test_a_climb_before_a_pause_says_nothing_of_this_one(climbed_s: float, suspected: bool) -> None:
    assert (watched_climb(standing(92.5, climbed_s=climbed_s)).suspicion is not None) is suspected
