"""What the board says of itself: its outputs against what it was told, and its starts."""

from __future__ import annotations

from typing import NamedTuple

from kettlebridge.core.here import Here
from kettlebridge.core.state import State
from kettlebridge.model.reading import BoardState

BEYOND_PERMILLE = 100
"""A board may round; a stuck or foreign output reads full."""
BOOTS_KEPT = 3
TOKEN_WRAPS = 1 << 31
"""A board's own time that fell by less than this began anew; one that fell by more went round."""


class ByBoard(NamedTuple):
    """What the board reads against what it was told, and when it began anew."""

    beyond_told: bool
    below_told: bool
    boots_s: tuple[float, ...]
    last_token: int | None
    linked_s: float


def by_board_of(here: Here) -> ByBoard:
    """By its newest report."""
    state, board, now_s = here.state, here.inputs.health.board, here.seen.now_s
    if board is None:
        return ByBoard(False, False, state.evidence.boots_s, state.evidence.last_token, 0.0)
    linked = here.inputs.health.linked
    return ByBoard(
        _beyond(state, board),
        linked and not state.arming.under_way and _below(state, board),
        _boots_s(state, board, now_s),
        board.acted_on,
        state.evidence.linked_s + here.seen.dt_s if linked else 0.0,
    )


def _beyond(state: State, board: BoardState) -> bool:
    told = state.outputs
    return (
        board.heater_permille > told.heater_permille + BEYOND_PERMILLE
        or (board.main_contactor_closed and not told.main_contactor_on)
        or (board.pump_on and not told.pump_on)
    )


def _below(state: State, board: BoardState) -> bool:
    told = state.outputs
    return (
        board.heater_permille < told.heater_permille - BEYOND_PERMILLE
        or (told.main_contactor_on and not board.main_contactor_closed)
        or (told.pump_on and not board.pump_on)
    )


def _boots_s(state: State, board: BoardState, now_s: float) -> tuple[float, ...]:
    """When the board's own time was seen to begin anew: its token fell between two reports."""
    boots_s = state.evidence.boots_s
    if restarted(state, board):
        boots_s = (*boots_s, now_s)[-BOOTS_KEPT:]
    return boots_s


def restarted(state: State, board: BoardState | None) -> bool:
    """Whether the board's own time has begun anew since the last report."""
    before = state.evidence.last_token
    return board is not None and before is not None and 0 < before - board.acted_on < TOKEN_WRAPS
