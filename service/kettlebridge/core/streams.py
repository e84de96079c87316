"""What flows, what stands over the element, and what comes back from the grain."""

from __future__ import annotations

from kettlebridge.brewing.water import WATER_J_PER_KG_K
from kettlebridge.core import calls
from kettlebridge.core.calls import HOSES, HOT_CUP
from kettlebridge.core.evidence import Moves, Streams
from kettlebridge.core.felt import NOTHING_FELT
from kettlebridge.core.felt import felt as felt_now
from kettlebridge.core.here import Here, Seen
from kettlebridge.core.moves import SETTLES_S
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.plan import StepKind
from kettlebridge.model.reading import BoardInput
from kettlebridge.model.units import S_PER_MIN

FLOW = BoardInput.FLOW
PUMPS_ROUND = (StepKind.HEAT, StepKind.REST, StepKind.CIRCULATE)
"""Steps whose pump brings back what it takes, as warm as it was."""
GAP_SHARE = 1.5
SHOWS_FLOW = (StepKind.HEAT, StepKind.REST, StepKind.CIRCULATE, StepKind.BOIL, StepKind.HOP_STAND)
"""Steps in which a pump that runs moves something past the flow switch."""


def streams_of(here: Here, moves: Moves, recent_fraction: float) -> Streams:
    """By pump, probes and the board's inputs."""
    plan, state, inputs, seen, sequenced, step = here
    before, kettle, row, board = state.evidence.streams, plan.kettle, sequenced.row, inputs.health.board
    kind = None if step is None else step.kind
    felt = NOTHING_FELT if board is None else felt_now(before.felt, board.inputs, kettle)
    shows_flow = moves.pumping is not felt.flow and kind in SHOWS_FLOW and FLOW in kettle.inputs
    stray = shows_flow and felt.flow and not (state.outputs.pump_on or moves.drawing_off)
    confirmed = HOT_CUP if moves.drawing_off else HOSES
    hot_pump = (moves.drawing_off or (row is not None and row.hot_pump)) and calls.was_answered(
        sequenced.stage.answered, confirmed
    )
    shows_bed = moves.pumping and seen.now_s - moves.moved_s >= SETTLES_S and kind in PUMPS_ROUND
    bed_lag_c = _bed_lag_c(kettle, seen, recent_fraction) if shows_bed else 0.0
    claimed = state.ledger.volume_l is not None
    wet = claimed and (before.wet or (board is not None and not felt.level))
    dry_s = before.dry_s + seen.dt_s if felt.level and claimed else 0.0
    return Streams(
        hot_pump=hot_pump,
        bed_lag_c=bed_lag_c,
        felt=felt,
        wet=wet,
        dry_s=dry_s,
        flow_wanted=shows_flow and moves.pumping,
        flow_stray=stray,
    )


def _bed_lag_c(kettle: Kettle, seen: Seen, recent_fraction: float) -> float:
    """How much further the returning stream is from the control probe than the heater's work on it can make it."""
    control_c, returning = seen.control.good_c, seen.seats.returning
    if control_c is None or returning is None or returning.good_c is None:
        return 0.0
    stream_w_per_k = WATER_J_PER_KG_K * kettle.pump_l_per_min / S_PER_MIN
    return abs(control_c - returning.good_c) - GAP_SHARE * kettle.heater_w * recent_fraction / stream_w_per_k
