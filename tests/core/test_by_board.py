"""What the board says of itself: outputs against what it was told, its starts, and how long it is there."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from kettlebridge.core.arming_state import Arming, Phase
from kettlebridge.core.by_board import by_board_of, restarted
from kettlebridge.core.evidence import ByBoard
from kettlebridge.core.outputs import Outputs
from kettlebridge.model.reading import UNLINKED, BoardHealth
from tests.core.moments import BOARD, NOW_S, resting

HALF = resting().at(state={"outputs": Outputs(heater_permille=500)})
"""Half of the heat is told, pump and main contactor are told off."""
FULL = resting().at(state={"outputs": Outputs(heater_permille=600, pump_on=True, main_contactor_on=True)})
OFF = {"heater_permille": 500, "pump_on": False, "main_contactor_closed": False}
ON = {"heater_permille": 600, "pump_on": True, "main_contactor_closed": True}


@pytest.mark.parametrize(
    ("pins", "beyond"),
    [
        ({}, False),
        ({"heater_permille": 600}, False),
        ({"heater_permille": 601}, True),
        ({"pump_on": True}, True),
        ({"main_contactor_closed": True}, True),
    ],
)
def test_an_output_that_reads_higher_than_told_is_beyond_it(pins: dict[str, Any], beyond: bool) -> None:
    found = by_board_of(HALF.board(**(OFF | pins)).here)
    assert (found.beyond_told, found.below_told) == (beyond, False)


@pytest.mark.parametrize(
    ("pins", "below"),
    [
        ({}, False),
        ({"heater_permille": 500}, False),
        ({"heater_permille": 499}, True),
        ({"pump_on": False}, True),
        ({"main_contactor_closed": False}, True),
    ],
)
def test_an_output_that_reads_lower_than_told_is_below_it(pins: dict[str, Any], below: bool) -> None:
    found = by_board_of(FULL.board(**(ON | pins)).here)
    assert (found.beyond_told, found.below_told) == (False, below)


def test_a_board_that_is_away_or_tried_for_arming_is_not_held_to_what_it_was_told() -> None:
    dropped = FULL.board(**OFF)
    away = dropped.at(inputs={"health": BoardHealth(linked=False, age_s=9.0, board=dropped.inputs.health.board)})
    tried = dropped.at(state={"arming": Arming(phase=Phase.DROP)})
    assert not by_board_of(away.here).below_told
    assert not by_board_of(tried.here).below_told
    assert by_board_of(dropped.at(state={"arming": Arming(phase=Phase.ARMED)}).here).below_told


@pytest.mark.parametrize(
    ("before", "now", "anew"),
    [
        (5000, 5001, False),
        (5000, 5000, False),
        (5000, 4999, True),
        (1 << 31, 0, False),
        ((1 << 31) + 9, 0, False),
        ((1 << 31) - 1, 0, True),
    ],
)
def test_a_board_s_own_time_that_falls_began_anew_unless_it_went_round(before: int, now: int, anew: bool) -> None:
    moment = resting().before(by_board=ByBoard(last_token=before, boots_s=(3.0,)))
    board = replace(BOARD, acted_on=now)
    assert restarted(moment.state, board) is anew
    found = by_board_of(moment.board(acted_on=now).here)
    assert (found.boots_s, found.last_token) == ((3.0, NOW_S) if anew else (3.0,), now)


def test_the_last_three_starts_are_known() -> None:
    moment = resting().before(by_board=ByBoard(last_token=9000, boots_s=(1.0, 2.0, 3.0)))
    assert by_board_of(moment.board(acted_on=10).here).boots_s == (2.0, 3.0, NOW_S)


def test_a_first_report_is_no_start() -> None:
    assert not restarted(resting().state, BOARD)
    assert not restarted(resting().before(by_board=ByBoard(last_token=9000)).state, None)


def test_a_board_that_has_gone_is_known_by_what_it_said_last() -> None:
    moment = resting().before(by_board=ByBoard(last_token=9000, boots_s=(3.0,), linked_s=60.0, beyond_told=True))
    gone = moment.at(inputs={"health": UNLINKED})
    assert by_board_of(gone.here) == ByBoard(last_token=9000, boots_s=(3.0,))


def test_how_long_it_is_there_is_counted_in_the_time_that_counts_and_begins_anew() -> None:
    moment = resting().before(by_board=ByBoard(linked_s=60.0)).at(seen={"dt_s": 2.0})
    assert by_board_of(moment.here).linked_s == 62.0
    away = moment.at(inputs={"health": BoardHealth(linked=False, age_s=9.0, board=BOARD)})
    assert by_board_of(away.here).linked_s == 0.0
