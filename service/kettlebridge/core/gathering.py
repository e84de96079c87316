"""Evidence gathered: once a tick, from readings, board, plan, stage, and what is wanted of the outputs."""

from __future__ import annotations

from typing import NamedTuple

from kettlebridge.core import additions, calls
from kettlebridge.core.arming_phases import DROP_S, REJOIN_S
from kettlebridge.core.arming_state import SILENT_PHASES, Arming, Phase
from kettlebridge.core.by_board import by_board_of
from kettlebridge.core.calls import CallKind
from kettlebridge.core.evidence import NEVER_HEARD_S, Evidence, armed_for
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


class Stayed(NamedTuple):
    """How long the stage lasts, against what it may."""

    overdue_s: float
    hold_limit_s: float | None
    held_s: float


def gathered(plan: Plan, state: State, inputs: Inputs, seen: Seen, sequenced: Sequenced) -> Evidence:
    """All that the rules may go by in this tick. By place, from names that are the fields' own: a test compares them.

    Forty-odd keywords would take longer than all that they name.
    """
    here = Here(plan, state, inputs, seen, sequenced, current_step(plan, sequenced.stage))
    kettle, batch, now_s, step = plan.kettle, state.batch, seen.now_s, here.step
    control, (stage, schedule, _, wish, row, _) = seen.control, sequenced
    volume_l, wants_heat, wants_pump, control_c = state.ledger.volume_l, wish.heats, wish.pump_on, control.good_c
    kind = None if step is None else step.kind
    moves = moves_of(here)
    warmth = warmth_of(here, moves)
    stayed = _stayed(here)
    streams = streams_of(here, moves, warmth.recent_fraction)
    by_board = by_board_of(here)
    armed, armed_target_c = state.evidence.armed, state.evidence.armed_target_c
    if batch is RUNNING and not moves.drawing_off:
        armed, armed_target_c = armed_for(state.evidence, wish.target_c, control_c)
    limit_c, over_allowed_c = kettle.safety.limit_c, kettle.safety.over_set_point_c
    cover_l, stale_after_s = kettle.element_cover_l, _stale_after_s(kettle, state.arming)
    stale_s = NEVER_HEARD_S if control.heard_s is None else now_s - control.heard_s
    over_c = None if wish.target_c is None or control_c is None else control_c - wish.target_c
    hands_in, heats_with_pump = (False, False) if row is None else (row.hands_in, row.heats_with_pump)
    sinking = bool(schedule) and additions.any_open(schedule) and additions.sinking(schedule)
    mash = state.ledger.grain is GRAIN_IN
    unlinked_s = 0.0 if seen.unlinked_since_s is None else now_s - seen.unlinked_since_s
    apart_c = _apart_c(kettle, seen) if seen.seats.beside else 0.0
    unattended = _unattended(plan, step, stage)
    stays_cold = unattended and _stays_cold(plan, state, sequenced, inputs.at_utc_s)
    return Evidence(
        batch,
        kind,
        control_c,
        stale_s,
        control.bad_streak,
        control.mostly_bad,
        limit_c,
        over_c,
        armed,
        armed_target_c,
        stayed.overdue_s,
        stayed.hold_limit_s,
        stayed.held_s,
        hands_in,
        sinking,
        mash,
        streams.hot_pump,
        heats_with_pump,
        moves.drawing_off,
        volume_l,
        cover_l,
        stale_after_s,
        over_allowed_c,
        unlinked_s,
        inputs.journal_failing,
        wants_heat,
        wants_pump,
        moves.moved_s,
        warmth.recent_fraction,
        moves.pumping,
        warmth.watch,
        warmth.open_s,
        warmth.risen_c,
        warmth.fallen_c,
        apart_c,
        streams.bed_lag_c,
        streams.felt,
        streams.wet,
        streams.dry_s,
        by_board.beyond_told,
        by_board.below_told,
        streams.flow_wanted,
        streams.flow_stray,
        by_board.boots_s,
        by_board.last_token,
        by_board.linked_s,
        now_s,
        unattended,
        stays_cold,
    )


def _stayed(here: Here) -> Stayed:
    stage, row, wants_heat = here.sequenced.stage, here.sequenced.row, here.sequenced.wish.heats
    now_s = here.seen.now_s
    overdue_s = _overdue_s(here.step, row, stage, now_s) if wants_heat else -NEVER_HEARD_S
    return Stayed(overdue_s, row.hold_limit_s if row is not None and wants_heat else None, now_s - stage.begun_s)


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
