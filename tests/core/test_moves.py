"""What moves liquid: the pump, hands, a cup that is drawn, and what the brewer said since the last tick."""

from __future__ import annotations

from typing import Any

import pytest

from kettlebridge.core.additions import Planned
from kettlebridge.core.calls import CallKind
from kettlebridge.core.evidence import Moves
from kettlebridge.core.ledger import Ledger
from kettlebridge.core.moves import moves_of, touched
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.plan import Addition, AdditionKind, AskKind, AskStep, BoilStep, ChillStep, HopStandStep, Water
from kettlebridge.model.reading import UNLINKED
from tests.core.bench_kettle import plan_of
from tests.core.moments import NOW_S, Moment, resting

STILL_S = 400.0
REST = resting().before(moves=Moves(pumping=True, moved_s=STILL_S))
HOPS = Planned(addition=Addition(name="leaf", kind=AdditionKind.HOPS, grams=20.0, before_end_min=10.0))
WATER = Water(fill_l=20.0, sparge_l=5.0, grain_kg=4.0, sparge_c=76.0)


def asked(what: AskKind, litres: float | None = None) -> Moment:
    step = AskStep(name="ask", what=what, litres=litres)
    return resting(plan_of(step, water=WATER)).before(moves=Moves(pumping=True, moved_s=STILL_S))


def test_a_healthy_rest_moves_nothing_but_what_its_pump_moves_round() -> None:
    found = moves_of(REST.here)
    assert (found.pumping, found.moved, found.pours, found.drawing_off, found.moved_s) == (
        True,
        False,
        False,
        False,
        STILL_S,
    )


@pytest.mark.parametrize(
    "moment",
    [
        REST.board(pump_on=False),
        REST.before(moves=Moves(pumping=False, moved_s=STILL_S)),
        REST.at(inputs={"health": UNLINKED}),
        REST.at(seen={"touched": True}),
        REST.at(state={"draw_off_s": (NOW_S - 1.0, NOW_S + 1.0)}),
    ],
    ids=["the pump stops", "the pump starts", "the board is away", "the brewer did something", "a cup is drawn"],
)
def test_what_moves_liquid_moves_it_now(moment: Moment) -> None:
    found = moves_of(moment.here)
    assert (found.moved, found.moved_s) == (True, NOW_S)


@pytest.mark.parametrize(("until_s", "drawing"), [(NOW_S + 0.1, True), (NOW_S, False)])
def test_a_cup_is_drawn_until_its_time_is_over(until_s: float, drawing: bool) -> None:
    assert moves_of(REST.at(state={"draw_off_s": (NOW_S - 20.0, until_s)}).here).drawing_off is drawing


BOIL = resting(plan_of(BoilStep(name="boil", for_min=60.0)))
APPROACHES = BOIL.at(sequenced={"stage": BOIL.sequenced.stage._replace(name="approach")})
COOLS = resting(plan_of(HopStandStep(name="stand", at_c=80.0, for_min=10.0)))


@pytest.mark.parametrize(
    ("moment", "pours"),
    [
        (asked(AskKind.LIFT), True),
        (resting(plan_of(ChillStep(name="chill", to_c=20.0, water_c=12.0))), True),
        (COOLS.at(sequenced={"stage": COOLS.sequenced.stage._replace(name="cool")}), True),
        (COOLS, False),
        (APPROACHES, False),
        (asked(AskKind.LIFT).at(state={"batch": BatchState.HELD}), False),
    ],
    ids=["hands", "a chiller", "a stand that cools", "a stand that stands", "an approach", "held"],
)
def test_hands_and_chillers_may_move_it_all_the_time(moment: Moment, pours: bool) -> None:
    found = moves_of(moment.here)
    assert found.pours is pours
    assert not pours or found.moved_s == NOW_S


@pytest.mark.parametrize(
    ("what", "litres", "poured_l"),
    [
        (AskKind.SPARGE, None, 5.0),
        (AskKind.SPARGE, 3.0, 3.0),
        (AskKind.INFUSE, 4.0, 4.0),
        (AskKind.INFUSE, None, 0.0),
        (AskKind.FILL, 4.0, 0.0),
        (AskKind.LIFT, None, 0.0),
    ],
)
def test_what_a_step_has_poured_in_is_known(what: AskKind, litres: float | None, poured_l: float) -> None:
    assert moves_of(asked(what, litres).here).poured_l == poured_l


def test_nothing_is_poured_while_it_is_held() -> None:
    assert moves_of(asked(AskKind.SPARGE).at(state={"batch": BatchState.HELD}).here).poured_l == 0.0


def test_sparge_water_may_have_cooled_by_twenty_degrees_on_its_way() -> None:
    """Common practice, no source: a pot that stood, a ladle, the grain."""
    assert moves_of(asked(AskKind.SPARGE).here).poured_c == 56.0


@pytest.mark.parametrize(
    ("changed", "may_have_moved"),
    [
        ({}, False),
        ({"ledger": Ledger(volume_l=21.0)}, True),
        ({"schedule": (HOPS,)}, True),
        ({"batch": BatchState.HELD}, True),
        ({"stage": REST.state.stage._replace(answered=((CallKind.HOSES, 0),))}, True),
        ({"stage": REST.state.stage._replace(target_c=60.0)}, True),
        ({"stage": REST.state.stage._replace(timer_s=60.0)}, False),
        ({"n": 7}, False),
    ],
    ids=["nothing", "litres", "an addition", "a pause", "an answer", "a target", "time", "a tick"],
)
def test_what_was_said_may_have_moved_liquid(changed: dict[str, Any], may_have_moved: bool) -> None:
    assert touched(REST.state, REST.state._replace(**changed)) is may_have_moved
