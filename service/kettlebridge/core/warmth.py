"""What the probe says of the heat that was given, or told off."""

from __future__ import annotations

from kettlebridge.core import heat_watch
from kettlebridge.core.evidence import Moves, Warmth
from kettlebridge.core.heat_watch import Heating
from kettlebridge.core.here import Here
from kettlebridge.core.moves import SETTLES_S
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.plan import ASK_ROWS, AskStep, StepKind
from kettlebridge.model.reading import BoardState
from kettlebridge.model.units import FULL_PERMILLE

RUNNING, BOIL = BatchState.RUNNING, StepKind.BOIL
FALL_BEGUN = 3
"""Of the trail's 10 s means: the last but two is about half a minute old."""
FALLING_C = 0.4
"""More than noise: something was poured in, or the probe slips. Then a rise that is missing says nothing."""
WARM_FRACTION = 0.05
HEAT_LEFT_S = 40.0
"""How long an element goes on giving heat, and a probe goes on showing it, as a decay time."""


def warmth_of(here: Here, moves: Moves) -> Warmth:
    """The heater's work, and what became of it."""
    plan, state, inputs, seen, sequenced, step = here
    stage, wish, now_s, kettle = sequenced.stage, sequenced.wish, seen.now_s, plan.kettle
    before, outputs = state.evidence.warmth, state.outputs
    applied = _applied(kettle, inputs.health.board)
    recent_fraction = max(applied, before.recent_fraction * (1.0 - min(seen.dt_s / HEAT_LEFT_S, 1.0)))
    fallen_c = _fallen_c(here, moves) if wish.heats else 0.0
    heating = Heating(
        kettle=kettle,
        ledger=state.ledger,
        control_c=seen.control.good_c,
        ambient_c=seen.ambient_c,
        applied_fraction=applied,
        recent_fraction=recent_fraction,
        told_off=not (outputs.heater_permille or outputs.main_contactor_on),
        moved=moves.moved,
        still_s=now_s - moves.moved_s,
        pours=moves.pours and not (isinstance(step, AskStep) and ASK_ROWS[step.what].exchanged),
        poured_l=moves.poured_l,
        poured_c=moves.poured_c,
        falling=fallen_c > FALLING_C,
        running=state.batch is RUNNING and wish.heats,
        boils=step is not None and step.kind is BOIL,
        target_c=wish.target_c,
        stage_begun_s=stage.begun_s,
        step_index=stage.step_index,
        now_s=now_s,
        dt_s=seen.dt_s,
    )
    watch = heat_watch.followed(before.watch, heating)
    open_s = 0.0 if watch.open_since_s is None else now_s - watch.open_since_s
    risen_c = heat_watch.risen_c(watch, heating) if open_s > 0.0 else 0.0
    return Warmth(
        recent_fraction=recent_fraction,
        watch=watch,
        open_s=open_s,
        risen_c=risen_c,
        fallen_c=fallen_c if recent_fraction >= WARM_FRACTION else 0.0,
    )


def _applied(kettle: Kettle, board: BoardState | None) -> float:
    """The heater's share of full power by the board's own word."""
    if board is None or not (board.main_contactor_closed or not kettle.has_main_contactor):
        return 0.0
    return board.heater_permille / FULL_PERMILLE


def _fallen_c(here: Here, moves: Moves) -> float:
    """How far it fell in half a minute: in liquid left alone, or beyond what is poured into what is kept warm."""
    seen, means_c, now_c = here.seen, here.seen.trail.values_c, here.seen.control.good_c
    if len(means_c) < FALL_BEGUN or now_c is None:
        return 0.0
    fell_c = means_c[-FALL_BEGUN] - now_c
    if seen.now_s - moves.moved_s >= SETTLES_S:
        return fell_c
    if moves.pours and seen.now_s - here.sequenced.stage.begun_s >= heat_watch.SETTLES_S:
        return fell_c - _cooled_c(now_c, here.state.ledger.volume_l, moves)
    return 0.0


def _cooled_c(control_c: float, volume_l: float | None, moves: Moves) -> float:
    """How far the coldest water that may be poured in takes it down."""
    if volume_l is None or not moves.poured_l:
        return 0.0
    return max(control_c - moves.poured_c, 0.0) * moves.poured_l / (volume_l + moves.poured_l)
