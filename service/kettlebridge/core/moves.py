"""What moves liquid in the kettle, and what that may do to what the probe reads."""

from __future__ import annotations

from kettlebridge.core.evidence import Moves
from kettlebridge.core.here import Here
from kettlebridge.core.ledger import litres_asked
from kettlebridge.core.state import State
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.plan import AnyStep, AskKind, AskStep, Plan, StepKind

RUNNING, CHILL = BatchState.RUNNING, StepKind.CHILL
POURED = (AskKind.INFUSE, AskKind.SPARGE)
COOLS_ON_ITS_WAY_C = 20.0
"""Sparge water may come that much colder than the profile says: a pot that stood, a ladle, the grain."""
SETTLES_S = 180.0
"""So long after liquid was moved a fall says nothing: grain lets it through slowly."""


def touched(before: State, after: State) -> bool:
    """Whether what was told since the last tick may have moved liquid."""
    return (
        before.ledger is not after.ledger
        or before.schedule is not after.schedule
        or before.stage.answered is not after.stage.answered
        or before.batch is not after.batch
        or before.stage.target_c != after.stage.target_c
    )


def moves_of(here: Here) -> Moves:
    """The pump's, the brewer's, and a cup's that is drawn."""
    plan, state, inputs, seen, sequenced, step = here
    board = inputs.health.board
    drawing_off = state.drawing_off(seen.now_s)
    pumping = board is not None and board.pump_on
    asks = isinstance(step, AskStep)
    chills = step is not None and step.kind is CHILL
    pours = state.batch is RUNNING and (asks or chills or sequenced.stage.name == "cool")
    poured_l = _poured_l(plan, step) if pours else 0.0
    poured_c = plan.profile.water.sparge_c - COOLS_ON_ITS_WAY_C
    moved = seen.touched or pumping != state.evidence.moves.pumping or drawing_off
    moved_s = seen.now_s if moved or pours else state.evidence.moves.moved_s
    return Moves(
        drawing_off=drawing_off,
        pumping=pumping,
        pours=pours,
        poured_l=poured_l,
        poured_c=poured_c,
        moved=moved,
        moved_s=moved_s,
    )


def _poured_l(plan: Plan, step: AnyStep | None) -> float:
    """What the step has poured into the kettle."""
    if not isinstance(step, AskStep) or step.what not in POURED:
        return 0.0
    return litres_asked(step, plan) or 0.0
