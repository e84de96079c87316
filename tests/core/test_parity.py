"""Tables that speak of one another agree."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path

import pytest

from kettlebridge.core.additions import CALLED
from kettlebridge.core.calls import CALL_ROWS, CallKind
from kettlebridge.core.interlocks import INTERLOCKS
from kettlebridge.core.ledger import AFTER_ASK
from kettlebridge.core.outputs import Lowers
from kettlebridge.core.promises import PROMISES
from kettlebridge.core.sequencer import ROWS, STAGES
from kettlebridge.core.stage import DONE
from kettlebridge.model.plan import ASK_ROWS, AskKind, StepKind
from kettlebridge.model.promise import Promise

ROOT = Path(__file__).parents[2]


def test_promise_numbers_are_unique_and_in_order() -> None:
    numbers = [promise.id for promise in PROMISES]
    assert numbers == sorted(set(numbers))


@pytest.mark.parametrize("promise", PROMISES, ids=lambda promise: str(promise.id))
def test_what_keeps_a_promise_and_what_tests_it_exist(promise: Promise) -> None:
    room, name = promise.kept_by.rsplit(".", 1)
    assert callable(getattr(import_module(f"kettlebridge.{room}"), name))
    assert (ROOT / promise.test).is_file()
    assert f"test_promise_{promise.id:02d}_" in promise.test


def test_every_interlock_belongs_to_a_promise() -> None:
    assert {row.promise for row in INTERLOCKS} <= {promise.id for promise in PROMISES}


def test_interlock_codes_are_unique_and_each_row_lowers_something() -> None:
    codes = [row.code for row in INTERLOCKS]
    assert len(codes) == len(set(codes))
    assert all(row.lowers is not Lowers.NOTHING for row in INTERLOCKS)


def test_every_rule_that_trips_opens_the_main_contactor_with_the_heater() -> None:
    assert all(row.lowers & Lowers.HEAT == Lowers.HEAT for row in INTERLOCKS if row.trips)


def test_a_rule_that_depends_on_another_comes_after_those_it_depends_on() -> None:
    given = [index for index, row in enumerate(INTERLOCKS) if row.given]
    assert given == list(range(len(INTERLOCKS) - len(given), len(INTERLOCKS)))


def test_every_kind_of_step_has_stages_and_every_ask_a_row() -> None:
    assert set(STAGES) == set(StepKind)
    assert set(ASK_ROWS) == set(AskKind)
    assert set(AFTER_ASK) <= set(AskKind)


@pytest.mark.parametrize("kind", StepKind)
def test_every_move_leads_to_a_stage_of_the_same_step(kind: StepKind) -> None:
    for row in STAGES[kind]:
        assert row.moves
        assert all(name == DONE or (kind, name) in ROWS for _, name in row.moves)


@pytest.mark.parametrize("kind", StepKind)
def test_every_stage_is_led_to_and_the_step_has_an_end(kind: StepKind) -> None:
    rows = STAGES[kind]
    led_to = {name for row in rows for _, name in row.moves}
    assert {row.name for row in rows[1:]} <= led_to
    assert DONE in led_to
    assert len({row.name for row in rows}) == len(rows)


def test_hands_in_stages_are_the_asks_alone() -> None:
    assert {(kind, row.name) for kind, rows in STAGES.items() for row in rows if row.hands_in} == {
        (StepKind.ASK, "hands_in"),
        (StepKind.ASK, "hands_out"),
        (StepKind.ASK, "announce"),
    }


def test_every_kind_of_call_has_a_row_and_those_of_danger_are_for_the_kettle() -> None:
    assert set(CALL_ROWS) == set(CallKind)
    assert set(CALLED.values()) <= set(CallKind)
    at_kettle = {kind for kind, row in CALL_ROWS.items() if row.at_kettle}
    assert at_kettle == {
        CallKind.HANDS_CLEAR,
        CallKind.STAND_BY,
        CallKind.BOILING,
        CallKind.HOSES,
        CallKind.DISSOLVED,
        CallKind.EVENING_LIST,
        CallKind.TEST_CALL,
        CallKind.COLD,
    }
