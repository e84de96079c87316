"""What the board says of itself: its outputs against what it was told, and its starts."""

from __future__ import annotations

from kettlebridge.core.evidence import ByBoard
from kettlebridge.core.here import Here
from kettlebridge.core.state import State
from kettlebridge.model.reading import BoardState

BEYOND_PERMILLE = 100
"""A board may round; a stuck or foreign output reads full."""
BOOTS_KEPT = 3
TOKEN_WRAPS = 1 << 31
"""A board's own time that fell by less than this began anew; one that fell by more went round."""


def by_board_of(here: Here) -> ByBoard:
    """By its newest report."""
    state, board, now_s, before = here.state, here.inputs.health.board, here.seen.now_s, here.state.evidence.by_board
    if board is None:
        return ByBoard(boots_s=before.boots_s, last_token=before.last_token)
    linked = here.inputs.health.linked
    return ByBoard(
        beyond_told=_beyond(state, board),
        below_told=linked and not state.arming.under_way and _below(state, board),
        boots_s=_boots_s(state, board, now_s),
        last_token=board.acted_on,
        linked_s=before.linked_s + here.seen.dt_s if linked else 0.0,
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
    boots_s = state.evidence.by_board.boots_s
    if restarted(state, board):
        boots_s = (*boots_s, now_s)[-BOOTS_KEPT:]
    return boots_s


def restarted(state: State, board: BoardState | None) -> bool:
    """Whether the board's own time has begun anew since the last report."""
    before = state.evidence.by_board.last_token
    return board is not None and before is not None and began_anew(before, board.acted_on)


def began_anew(before: int, token: int) -> bool:
    """Whether a board's own time began anew between two of its reports."""
    return 0 < before - token < TOKEN_WRAPS
