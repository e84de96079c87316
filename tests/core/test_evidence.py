"""What the rules go by before anything is known; and that overshooting is judged once the set-point was reached."""

from __future__ import annotations

import pytest

from kettlebridge.core.evidence import FIRST_EVIDENCE, NEVER_HEARD_S, Evidence, armed_for
from kettlebridge.core.felt import NOTHING_FELT
from kettlebridge.core.heat_watch import UNWATCHED
from kettlebridge.model.batch_state import BatchState
from tests.core.evidence_with import findings

NOTHING = (None, False, 0, 0.0, (), NOTHING_FELT, UNWATCHED)
TEN_YEARS_S = 10 * 365 * 86_400.0
FRESH = Evidence()
ARMED = Evidence(armed=True, armed_target_c=66.0)


@pytest.mark.parametrize(
    ("control_c", "armed"), [(64.99, False), (65.0, True), (66.0, True), (67.0, True), (67.01, False)]
)
def test_it_arms_within_a_degree_on_either_side(control_c: float, armed: bool) -> None:
    assert armed_for(FRESH, 66.0, control_c) == (armed, 66.0)


@pytest.mark.parametrize("control_c", [20.0, 90.0])
def test_once_armed_it_stays_so_however_far_the_probe_goes(control_c: float) -> None:
    assert armed_for(ARMED, 66.0, control_c) == (True, 66.0)


@pytest.mark.parametrize("target_c", [62.0, 72.0])
def test_another_set_point_disarms_it(target_c: float) -> None:
    assert armed_for(ARMED, target_c, 66.0 if target_c == 72.0 else 68.0) == (False, target_c)


def test_a_set_point_that_comes_back_out_of_a_file_is_the_same_one() -> None:
    assert armed_for(ARMED, float("66.0"), 20.0) == (True, 66.0)


def test_what_was_not_armed_is_not_by_staying_away() -> None:
    assert armed_for(Evidence(armed=False, armed_target_c=66.0), 66.0, 20.0) == (False, 66.0)


@pytest.mark.parametrize(("target_c", "control_c"), [(None, 66.0), (66.0, None), (None, None)])
def test_without_set_point_or_reading_it_is_not(target_c: float | None, control_c: float | None) -> None:
    assert armed_for(ARMED, target_c, control_c) == (False, None)


def test_before_the_first_tick_nothing_is_on_nothing_is_wrong_and_nothing_was_ever_heard() -> None:
    said = {name: value for name, value in findings(FIRST_EVIDENCE).items() if value not in NOTHING}
    assert said == {
        "batch": BatchState.IDLE,
        "stale_s": NEVER_HEARD_S,
        "overdue_s": -NEVER_HEARD_S,
        "moved_s": -NEVER_HEARD_S,
        "stale_after_s": 3.0,
        "over_allowed_c": 5.0,
    }
    assert NEVER_HEARD_S > TEN_YEARS_S
