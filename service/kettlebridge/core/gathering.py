"""Evidence gathered: once a tick, from readings, board, plan, stage, and what is wanted of the outputs."""

from __future__ import annotations

from kettlebridge.core import additions, calls
from kettlebridge.core.arming_phases import DROP_S, REJOIN_S
from kettlebridge.core.arming_state import SILENT_PHASES, Arming, Phase
from kettlebridge.core.by_board import by_board_of
from kettlebridge.core.calls import CallKind
from kettlebridge.core.evidence import NEVER_HEARD_S, Evidence, Stayed, armed_for
from kettlebridge.core.here import Here, Seen
from kettlebridge.core.ledger import GRAIN_IN
from kettlebridge.core.moves import moves_of
from kettlebridge.core.sequencer import Sequenced, current_step
from kettlebridge.core.stage import Stage, StageState, planned_s
from kettlebridge.core.state import State
from kettlebridge.core.steps.heat import COLD, WAIT
from kettlebridge.core.streams import streams_of
from kettlebridge.core.warmth import warmth_of
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.inputs import Inputs
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.plan import AnyStep, HeatStep, Plan

RUNNING, NOT_ARMED = BatchState.RUNNING, Phase.NOT_ARMED


def gathered(plan: Plan, state: State, inputs: Inputs, seen: Seen, sequenced: Sequenced) -> Evidence:
    """All that the rules may go by in this tick."""
    stage, schedule, _, wish, row, _ = sequenced
    here = Here(plan, state, inputs, seen, sequenced, current_step(plan, stage))
    kettle, now_s, control, step = plan.kettle, seen.now_s, seen.control, here.step
    control_c = control.good_c
    moves = moves_of(here)
    warmth = warmth_of(here, moves)
    armed, armed_target_c = state.evidence.armed, state.evidence.armed_target_c
    if state.batch is RUNNING and not moves.drawing_off:
        armed, armed_target_c = armed_for(state.evidence, wish.target_c, control_c)
    unattended = _unattended(plan, step, stage)
    return Evidence(
        batch=state.batch,
        kind=None if step is None else step.kind,
        now_s=now_s,
        control_c=control_c,
        stale_s=NEVER_HEARD_S if control.heard_s is None else now_s - control.heard_s,
        bad_streak=control.bad_streak,
        mostly_bad=control.mostly_bad,
        over_c=None if wish.target_c is None or control_c is None else control_c - wish.target_c,
        armed=armed,
        armed_target_c=armed_target_c,
        apart_c=_apart_c(kettle, seen) if seen.seats.beside else 0.0,
        limit_c=kettle.safety.limit_c,
        over_allowed_c=kettle.safety.over_set_point_c,
        stale_after_s=_stale_after_s(kettle, state.arming),
        volume_l=state.ledger.volume_l,
        cover_l=kettle.element_cover_l,
        mash=state.ledger.grain is GRAIN_IN,
        hands_in=row is not None and row.hands_in,
        sinking=bool(schedule) and additions.any_open(schedule) and additions.sinking(schedule),
        heats_with_pump=row is not None and row.heats_with_pump,
        wants_heat=wish.heats,
        wants_pump=wish.pump_on,
        unattended=unattended,
        stays_cold=unattended and _stays_cold(plan, state, sequenced, inputs.at_utc_s),
        unlinked_s=0.0 if seen.unlinked_since_s is None else now_s - seen.unlinked_since_s,
        journal_failing=inputs.journal_failing,
        stayed=_stayed(here),
        moves=moves,
        warmth=warmth,
        streams=streams_of(here, moves, warmth.recent_fraction),
        by_board=by_board_of(here),
    )


def _stayed(here: Here) -> Stayed:
    stage, row, wants_heat = here.sequenced.stage, here.sequenced.row, here.sequenced.wish.heats
    now_s = here.seen.now_s
    overdue_s = _overdue_s(here.step, row, stage, now_s) if wants_heat else -NEVER_HEARD_S
    return Stayed(
        overdue_s=overdue_s,
        hold_limit_s=row.hold_limit_s if row is not None and wants_heat else None,
        held_s=now_s - stage.begun_s,
    )


def _overdue_s(step: AnyStep | None, row: Stage | None, stage: StageState, now_s: float) -> float:
    """How far the stage is beyond twice the time it should take; far before it for one with another bound."""
    if step is None or row is None or not (row.timed or row.expects_c):
        return -NEVER_HEARD_S
    expected_s = planned_s(step, stage) if row.timed else stage.expected_s
    return now_s - stage.begun_s - 2.0 * (expected_s or 0.0)


def _apart_c(kettle: Kettle, seen: Seen) -> float:
    """By how much probes in the control probe's place read otherwise; 0 where one of them is not believed."""
    apart_c, control_c = 0.0, seen.control.good_c
    for memory in seen.seats.beside:
        if memory.good_c is not None and control_c is not None:
            fresh = seen.now_s - memory.good_s <= kettle.safety.stale_after_s
            apart_c = max(apart_c, abs(memory.good_c - control_c)) if fresh else apart_c
    return apart_c


def _stale_after_s(kettle: Kettle, at: Arming) -> float:
    """While the board is let down on purpose, and nothing is on, its silence is none."""
    silent = at.phase in SILENT_PHASES
    return DROP_S + REJOIN_S if silent else kettle.safety.stale_after_s


def _stays_cold(plan: Plan, state: State, sequenced: Sequenced, at_utc_s: float) -> bool:
    """Whether somebody must know that it will not heat: it was armed and is no more, or it is time."""
    stage, at = sequenced.stage, state.arming
    if at.phase is not NOT_ARMED or calls.was_answered(stage.answered, COLD):
        return False
    due = any(call.kind is CallKind.COLD for call in sequenced.calls)
    past = plan.ready_at_utc_s is not None and at_utc_s >= plan.ready_at_utc_s
    return at.lost or (stage.name == WAIT and (due or past))


def _unattended(plan: Plan, step: AnyStep | None, stage: StageState) -> bool:
    if not isinstance(step, HeatStep) or not step.ready or plan.ready_at_utc_s is None:
        return False
    return not calls.was_answered(stage.answered, calls.Wanted(kind=CallKind.PRESENT))
