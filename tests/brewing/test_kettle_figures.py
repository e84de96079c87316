"""What the last batches say of a kettle, and how sure it is."""

from __future__ import annotations

from math import sqrt

import pytest

from kettlebridge.brewing.beside_plan import beside
from kettlebridge.brewing.brewed import Brewed
from kettlebridge.brewing.kettle_figures import Proposal, proposals
from kettlebridge.documents.after_sections import BESIDE_WORDS, after_sections
from kettlebridge.model.plan import Plan, Profile, Water
from tests.brewing.sheets import kettle, sheet

PLAN = Plan(
    kettle=kettle("saddle"),
    profile=Profile(name="day", water=Water(fill_l=20.0, sparge_l=5.0, grain_kg=5.0), steps=()),
)
NOW = {"boil_off_l_per_h": 2.6, "grain_absorption_l_per_kg": 0.6}


def batch(pre_boil_l: float | None, post_boil_l: float | None = None, boil_min: float | None = 60.0) -> Brewed:
    return Brewed(
        steps=(),
        additions=(),
        water_l=25.0,
        grain_kg=5.0,
        pre_boil_l=pre_boil_l,
        pre_boil_sg=None,
        post_boil_l=post_boil_l,
        original_sg=None,
        boil_min=boil_min,
        strike_error_c=None,
    )


def found(key: str, *batches: Brewed) -> Proposal:
    return next(each for each in proposals([(PLAN, one) for one in batches], NOW) if each.key == key)


def test_absorption_is_the_mean_of_the_batches_with_their_spread() -> None:
    absorption = found("grain_absorption_l_per_kg", batch(21.0), batch(20.5), batch(21.5))
    assert absorption.found == pytest.approx((0.8 + 0.9 + 0.7) / 3.0)
    assert absorption.spread == pytest.approx(0.1)
    assert absorption.worth_taking


def test_a_difference_within_the_uncertainty_of_the_mean_is_left() -> None:
    absorption = found("grain_absorption_l_per_kg", batch(20.6), batch(22.6))
    assert abs(absorption.found - absorption.now) < (absorption.spread or 0.0) / sqrt(2.0)
    assert not absorption.worth_taking


def test_more_batches_make_the_mean_surer_than_one_is() -> None:
    absorption = found("grain_absorption_l_per_kg", batch(21.9), batch(20.9))
    assert absorption.found - absorption.now < (absorption.spread or 0.0)
    assert absorption.worth_taking


def test_one_batch_has_no_spread_and_changes_nothing() -> None:
    alone = found("grain_absorption_l_per_kg", batch(20.0))
    assert (alone.spread, alone.worth_taking) == (None, False)


def test_what_was_not_measured_or_cannot_be_true_does_not_count() -> None:
    assert found("grain_absorption_l_per_kg", batch(21.0), batch(None), batch(2.0)).batches == 1
    assert proposals([(PLAN, batch(None))], NOW) == ()


def test_boil_off_is_by_the_hour_of_the_boil() -> None:
    half = found("boil_off_l_per_h", batch(24.0, 22.0, boil_min=30.0)).found
    hour = found("boil_off_l_per_h", batch(24.0, 22.0, boil_min=60.0)).found
    assert half == pytest.approx(2.0 * hour)
    assert [each.key for each in proposals([(PLAN, batch(21.0, 19.0, boil_min=5.0))], NOW)] == [
        "grain_absorption_l_per_kg"
    ]


def test_a_boil_off_that_differs_asks_for_a_calibration_and_is_not_taken() -> None:
    boil_off = found("boil_off_l_per_h", *(batch(24.0, 22.0, boil_min=30.0),) * 2)
    assert (boil_off.differs, boil_off.worth_taking) == (True, False)
    assert [row[-1] for row in after_sections(batch(24.0), (), (), (boil_off,))[-1].rows] == ["calibrate"]


def test_every_figure_beside_the_plan_has_words() -> None:
    rows = beside(PLAN, batch(21.0, 18.0), sheet("corvane_pale", "saddle"), ())
    assert [row.key for row in rows] == list(BESIDE_WORDS)
