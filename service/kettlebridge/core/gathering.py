"""Evidence gathered: once a tick, from readings, board, plan, stage, and what is wanted of the outputs."""

from __future__ import annotations

from typing import NamedTuple

from kettlebridge.core import additions, calls, heat_watch
from kettlebridge.core.arming_phases import DROP_S, REJOIN_S
from kettlebridge.core.arming_state import SILENT_PHASES, Arming, Phase
from kettlebridge.core.calls import HOSES, HOT_CUP, CallKind
from kettlebridge.core.evidence import NEVER_HEARD_S, Evidence, armed_for
from kettlebridge.core.felt import NOTHING_FELT
from kettlebridge.core.felt import felt as felt_now
from kettlebridge.core.heat import WATER_J_PER_KG_K
from kettlebridge.core.heat_watch import Heating
from kettlebridge.core.ledger import GRAIN_IN
from kettlebridge.core.outputs import FULL_PERMILLE
from kettlebridge.core.probes import ProbeMemory, Seats
from kettlebridge.core.sequencer import Sequenced, current_step
from kettlebridge.core.stage import Stage, StageState, planned_s
from kettlebridge.core.state import State
from kettlebridge.core.steps.heat import COLD, WAIT
from kettlebridge.core.trail import Trail
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.inputs import Inputs
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.plan import AnyStep, AskStep, HeatStep, Plan, StepKind
from kettlebridge.model.reading import BoardInput, BoardState

RUNNING, NOT_ARMED = BatchState.RUNNING, Phase.NOT_ARMED
BOIL, CHILL, FLOW = StepKind.BOIL, StepKind.CHILL, BoardInput.FLOW
BEYOND_PERMILLE = 100
"""A board may round; a stuck or foreign output reads full."""
FALL_BEGUN = 3
"""Of the trail's 10 s means: the last but two is about half a minute old."""
FALLING_C = 0.4
"""More than noise: something was poured in, or the probe slips. Then a rise that is missing says nothing."""
WARM_FRACTION = 0.05
SETTLES_S = 180.0
"""So long after liquid was moved a fall says nothing: grain lets it through slowly."""
HEAT_LEFT_S = 40.0
"""How long an element goes on giving heat, and a probe goes on showing it, as a decay time."""
BOOTS_KEPT = 3
TOKEN_WRAPS = 1 << 31
"""A board's own time that fell by less than this began anew; one that fell by more went round."""
PUMPS_ROUND = (StepKind.HEAT, StepKind.REST, StepKind.CIRCULATE)
"""Steps whose pump brings back what it takes, as warm as it was."""
SECONDS_PER_MIN = 60.0
GAP_SHARE = 1.5
SHOWS_FLOW = (StepKind.HEAT, StepKind.REST, StepKind.CIRCULATE, StepKind.BOIL, StepKind.HOP_STAND)
"""Steps in which a pump that runs moves something past the flow switch."""


class Seen(NamedTuple):
    """What the tick goes by. `dt_s` is the time that counts, `unlinked_since_s` None while the board is linked.

    `control` is its seat's memory. `touched`: the brewer did something to what is in the kettle.
    """

    control: ProbeMemory
    seats: Seats
    bed_c: float | None
    ambient_c: float
    trail: Trail
    now_s: float
    dt_s: float
    unlinked_since_s: float | None
    touched: bool


def touched(before: State, after: State) -> bool:
    """Whether what was told since the last tick may have moved liquid."""
    return (
        before.ledger is not after.ledger
        or before.schedule is not after.schedule
        or before.stage.answered is not after.stage.answered
        or before.batch is not after.batch
        or before.stage.target_c != after.stage.target_c
    )


def gathered(plan: Plan, state: State, inputs: Inputs, seen: Seen, sequenced: Sequenced) -> Evidence:
    """All that the rules may go by in this tick. By place, from names that are the fields' own: a test compares them.

    Forty-odd keywords would take longer than all that they name.
    """
    kettle, batch, ledger, now_s, before = plan.kettle, state.batch, state.ledger, seen.now_s, state.evidence
    cover_l, stale_after_s = kettle.element_cover_l, _stale_after_s(kettle, state.arming)
    limit_c, over_allowed_c = kettle.safety.limit_c, kettle.safety.over_set_point_c
    control, (stage, schedule, _, wish, row, _) = seen.control, sequenced
    board, control_c, target_c = inputs.health.board, control.good_c, wish.target_c
    volume_l, wants_pump, wants_heat, drawing_off = ledger.volume_l, wish.pump_on, wish.heats, state.drawing_off(now_s)
    step = current_step(plan, stage)
    running, kind = batch is RUNNING, None if step is None else step.kind
    if drawing_off or not running:
        armed, armed_target_c = before.armed, before.armed_target_c
    else:
        armed, armed_target_c = armed_for(before, target_c, control_c)
    waiting = bool(schedule) and additions.any_open(schedule)
    pumping = board is not None and board.pump_on
    pours = running and (waiting or isinstance(step, AskStep) or kind is CHILL or stage.name == "cool")
    moved = seen.touched or pumping != before.pumping or drawing_off or pours
    moved_s = now_s if moved else before.moved_s
    still_s = now_s - moved_s
    applied = _applied(kettle, board)
    recent_fraction = max(applied, before.recent_fraction * (1.0 - min(seen.dt_s / HEAT_LEFT_S, 1.0)))
    fallen_c = _fallen_c(seen) if wants_heat and still_s >= SETTLES_S else 0.0
    heating = Heating(
        kettle,
        ledger,
        control_c,
        seen.ambient_c,
        applied,
        recent_fraction,
        not (state.outputs.heater_permille or state.outputs.main_contactor_on),
        moved,
        still_s,
        fallen_c > FALLING_C,
        running and wants_heat and not isinstance(step, AskStep),
        kind is BOIL,
        target_c,
        stage.begun_s,
        now_s,
        seen.dt_s,
    )
    watch = heat_watch.followed(before.watch, heating)
    felt = NOTHING_FELT if board is None else felt_now(before.felt, board.inputs, kettle)
    claimed = volume_l is not None
    shows_flow = pumping is not felt.flow and kind in SHOWS_FLOW and FLOW in kettle.inputs
    flow_wanted = shows_flow and pumping
    flow_stray = shows_flow and felt.flow and not (state.outputs.pump_on or drawing_off)
    stale_s = NEVER_HEARD_S if control.heard_s is None else now_s - control.heard_s
    over_c = None if target_c is None or control_c is None else control_c - target_c
    overdue_s = _overdue_s(step, row, stage, now_s) if wants_heat else -NEVER_HEARD_S
    hold_limit_s = row.hold_limit_s if row is not None and wants_heat else None
    held_s = now_s - stage.begun_s
    hands_in, heats_with_pump = (False, False) if row is None else (row.hands_in, row.heats_with_pump)
    sinking, mash = waiting and additions.sinking(schedule), ledger.grain is GRAIN_IN
    hot_pump = (drawing_off or (row is not None and row.hot_pump)) and calls.was_answered(
        stage.answered, HOT_CUP if drawing_off else HOSES
    )
    unlinked_s = 0.0 if seen.unlinked_since_s is None else now_s - seen.unlinked_since_s
    open_s = 0.0 if watch.open_since_s is None else now_s - watch.open_since_s
    fallen_c = fallen_c if recent_fraction >= WARM_FRACTION else 0.0
    apart_c = _apart_c(kettle, seen) if seen.seats.beside else 0.0
    stream_shows = pumping and still_s >= SETTLES_S and kind in PUMPS_ROUND
    bed_lag_c = _bed_lag_c(kettle, seen, recent_fraction) if stream_shows else 0.0
    wet = claimed and (before.wet or (board is not None and not felt.level))
    dry_s = before.dry_s + seen.dt_s if felt.level and claimed else 0.0
    beyond_told = board is not None and _beyond(state, board)
    boots_s = _boots_s(state, board, now_s)
    last_token = before.last_token if board is None else board.acted_on
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
        overdue_s,
        hold_limit_s,
        held_s,
        hands_in,
        sinking,
        mash,
        hot_pump,
        heats_with_pump,
        drawing_off,
        volume_l,
        cover_l,
        stale_after_s,
        over_allowed_c,
        unlinked_s,
        inputs.journal_failing,
        wants_heat,
        wants_pump,
        moved_s,
        recent_fraction,
        pumping,
        watch,
        open_s,
        fallen_c,
        apart_c,
        bed_lag_c,
        felt,
        wet,
        dry_s,
        beyond_told,
        flow_wanted,
        flow_stray,
        boots_s,
        last_token,
        now_s,
        unattended,
        stays_cold,
    )


def _applied(kettle: Kettle, board: BoardState | None) -> float:
    """The heater's share of full power by the board's own word."""
    if board is None or not (board.main_contactor_closed or not kettle.has_main_contactor):
        return 0.0
    return board.heater_permille / FULL_PERMILLE


def _overdue_s(step: AnyStep | None, row: Stage | None, stage: StageState, now_s: float) -> float:
    """How far the stage is beyond twice the time it should take; far before it for one with another bound."""
    if step is None or row is None or not (row.timed or row.expects_c):
        return -NEVER_HEARD_S
    expected_s = planned_s(step, stage) if row.timed else stage.expected_s
    return now_s - stage.begun_s - 2.0 * (expected_s or 0.0)


def _fallen_c(seen: Seen) -> float:
    """How far it fell in the last half minute."""
    means_c, now_c = seen.trail.values_c, seen.control.good_c
    return 0.0 if len(means_c) < FALL_BEGUN or now_c is None else means_c[-FALL_BEGUN] - now_c


def _apart_c(kettle: Kettle, seen: Seen) -> float:
    """By how much probes in the control probe's place read otherwise; 0 where one of them is not believed."""
    apart_c, control_c = 0.0, seen.control.good_c
    for memory in seen.seats.beside:
        if memory.good_c is not None and control_c is not None:
            fresh = seen.now_s - memory.good_s <= kettle.safety.stale_after_s
            apart_c = max(apart_c, abs(memory.good_c - control_c)) if fresh else apart_c
    return apart_c


def _bed_lag_c(kettle: Kettle, seen: Seen, recent_fraction: float) -> float:
    """How much further the returning stream is from the control probe than the heater's work on it can make it."""
    control_c, returning = seen.control.good_c, seen.seats.returning
    if control_c is None or returning is None or returning.good_c is None:
        return 0.0
    stream_w_per_k = WATER_J_PER_KG_K * kettle.pump_l_per_min / SECONDS_PER_MIN
    return abs(control_c - returning.good_c) - GAP_SHARE * kettle.heater_w * recent_fraction / stream_w_per_k


def _beyond(state: State, board: BoardState) -> bool:
    told = state.outputs
    return (
        board.heater_permille > told.heater_permille + BEYOND_PERMILLE
        or (board.main_contactor_closed and not told.main_contactor_on)
        or (board.pump_on and not told.pump_on)
    )


def _boots_s(state: State, board: BoardState | None, now_s: float) -> tuple[float, ...]:
    """When the board's own time was seen to begin anew: its token fell between two reports."""
    boots_s = state.evidence.boots_s
    if restarted(state, board):
        boots_s = (*boots_s, now_s)[-BOOTS_KEPT:]
    return boots_s


def restarted(state: State, board: BoardState | None) -> bool:
    """Whether the board's own time has begun anew since the last report."""
    before = state.evidence.last_token
    return board is not None and before is not None and 0 < before - board.acted_on < TOKEN_WRAPS


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
