"""What the heater may still show, how long it has been told off, and how far the probe fell."""

from __future__ import annotations

import pytest

from kettlebridge.core.evidence import Moves, Warmth
from kettlebridge.core.heat_watch import SETTLES_S as HANDS_SETTLE_S
from kettlebridge.core.ledger import Ledger
from kettlebridge.core.outputs import Outputs
from kettlebridge.core.probes import ProbeMemory
from kettlebridge.core.stage import Wish
from kettlebridge.core.trail import Trail
from kettlebridge.core.warmth import warmth_of
from kettlebridge.model.plan import AskKind, AskStep
from kettlebridge.model.reading import UNLINKED
from tests.core.bench_kettle import BARE, MASH_REST, plan_of
from tests.core.moments import NOW_S, Moment, resting

STILL = Moves(pumping=True, moved_s=NOW_S - 180.0)
"""Liquid was left alone for just as long as it takes to settle."""
REST = resting().before(moves=STILL)
FELL = Trail(values_c=(70.0, 69.0, 68.5))
"""The probe says 66.0 °C now: 3 °C less than half a minute ago, 4 °C less than the minute's first."""
WARM = Warmth(recent_fraction=0.8)


def recent(moment: Moment) -> float:
    return warmth_of(moment.here, STILL).recent_fraction


def test_a_heater_shows_its_highest_share_of_power_and_lets_go_of_it_slowly() -> None:
    """Within 40 s about two thirds are gone: a decay time of the element's own heat and the probe's delay."""
    assert recent(REST.board(heater_permille=900).before(warmth=WARM)) == 0.9
    assert recent(REST.before(warmth=WARM)) == pytest.approx(0.8 * (1.0 - 1.0 / 40.0))
    assert recent(REST.before(warmth=WARM).at(seen={"dt_s": 2.0})) == pytest.approx(0.8 * (1.0 - 2.0 / 40.0))
    assert recent(REST.before(warmth=WARM).at(seen={"dt_s": 100.0})) == 0.0


def test_no_power_flows_behind_an_open_main_contactor_or_over_a_lost_line() -> None:
    assert recent(REST.board(heater_permille=900, main_contactor_closed=False)) == 0.0
    assert recent(REST.at(inputs={"health": UNLINKED})) == 0.0
    bare = resting(plan_of(MASH_REST, kettle=BARE))
    assert recent(bare.board(heater_permille=900, main_contactor_closed=False)) == 0.9


def fallen(moment: Moment, moves: Moves = STILL) -> float:
    return warmth_of(moment.before(warmth=WARM).at(seen={"trail": FELL}).here, moves).fallen_c


def test_a_fall_is_from_half_a_minute_ago_until_now() -> None:
    assert fallen(REST) == 4.0
    last = Trail(values_c=(90.0, 70.0, 69.0, 68.5))
    assert warmth_of(REST.before(warmth=WARM).at(seen={"trail": last}).here, STILL).fallen_c == 4.0


@pytest.mark.parametrize(
    "moment",
    [
        REST.at(seen={"control": ProbeMemory()}),
        REST.at(sequenced={"wish": Wish(pump_on=True)}),
    ],
    ids=["nothing is read", "no heat is wanted"],
)
def test_a_fall_is_none_without(moment: Moment) -> None:
    assert fallen(moment) == 0.0


def test_a_fall_takes_half_a_minute_to_be_seen() -> None:
    young = REST.before(warmth=WARM).at(seen={"trail": Trail(values_c=(70.0, 69.0))})
    assert warmth_of(young.here, STILL).fallen_c == 0.0


def test_liquid_that_was_just_moved_may_fall() -> None:
    assert fallen(REST, STILL._replace(moved_s=NOW_S - 179.9)) == 0.0


@pytest.mark.parametrize(("left", "fell_c"), [(0.06, 4.0), (0.049, 0.0)])
def test_a_heater_that_has_long_been_off_explains_any_fall(left: float, fell_c: float) -> None:
    moment = REST.before(warmth=Warmth(recent_fraction=left)).at(seen={"trail": FELL})
    assert warmth_of(moment.here, STILL).fallen_c == fell_c


SPARGE = resting(plan_of(AskStep(name="sparge", what=AskKind.SPARGE, keep_c=66.0))).at(
    sequenced={"wish": Wish(target_c=66.0)}
)
POURS = Moves(pours=True, poured_l=5.0, poured_c=56.0, moved_s=NOW_S)


def test_what_is_poured_in_explains_as_much_of_a_fall_as_it_cools() -> None:
    """5 L at 56 °C into 20 L at 66 °C: 10 K of it in 25 L."""
    assert fallen(SPARGE, POURS) == pytest.approx(4.0 - 10.0 * 5.0 / 25.0)


def test_what_is_poured_in_warmer_explains_none_and_neither_does_nothing() -> None:
    assert fallen(SPARGE, POURS._replace(poured_c=70.0)) == 4.0
    assert fallen(SPARGE, POURS._replace(poured_l=0.0)) == 4.0
    assert fallen(SPARGE.at(state={"ledger": Ledger()}), POURS) == 4.0


@pytest.mark.parametrize(("lasted_s", "counts"), [(HANDS_SETTLE_S, True), (HANDS_SETTLE_S - 0.1, False)])
def test_a_fall_in_the_first_moments_of_a_sparge_says_nothing(lasted_s: float, counts: bool) -> None:
    moment = SPARGE.at(sequenced={"stage": SPARGE.sequenced.stage._replace(begun_s=NOW_S - lasted_s)})
    assert (fallen(moment, POURS) > 0.0) is counts


def test_heat_is_told_off_when_neither_heater_nor_main_contactor_is_demanded() -> None:
    def open_s(outputs: Outputs) -> float:
        first = warmth_of(REST.at(state={"outputs": outputs}).here, STILL)
        later = REST.before(warmth=first).at(state={"outputs": outputs}, seen={"now_s": NOW_S + 5.0})
        return warmth_of(later.here, STILL).open_s

    assert open_s(Outputs(pump_on=True)) == 5.0
    assert open_s(Outputs(heater_permille=1)) == 0.0
    assert open_s(Outputs(main_contactor_on=True)) == 0.0
