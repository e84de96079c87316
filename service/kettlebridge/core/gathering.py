"""Evidence gathered: once a tick, from readings, board, plan, stage, and what is wanted of the outputs."""

from __future__ import annotations

from typing import NamedTuple

from kettlebridge.core import additions, calls, heat_watch, trail
from kettlebridge.core.arming_phases import DROP_S, REJOIN_S
from kettlebridge.core.arming_state import SILENT_PHASES, Arming, Phase
from kettlebridge.core.calls import HOSES, HOT_CUP, CallKind
from kettlebridge.core.evidence import NEVER_HEARD_S, Evidence, armed_for
from kettlebridge.core.felt import NOTHING_FELT, felt
from kettlebridge.core.heat import WATER_J_PER_KG_K
from kettlebridge.core.heat_watch import Heating
from kettlebridge.core.ledger import Grain
from kettlebridge.core.outputs import FULL_PERMILLE
from kettlebridge.core.probes import Memories, ProbeMemory
from kettlebridge.core.sequencer import Sequenced, current_step
from kettlebridge.core.stage import Stage, StageState, planned_s
from kettlebridge.core.state import State
from kettlebridge.core.steps.heat import COLD, WAIT
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.inputs import Inputs
from kettlebridge.model.kettle import Kettle, ProbeRole
from kettlebridge.model.plan import AnyStep, AskStep, HeatStep, Plan, StepKind
from kettlebridge.model.reading import BoardInput, BoardState

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
PUMPS_ROUND = frozenset({StepKind.HEAT, StepKind.REST, StepKind.CIRCULATE})
"""Steps whose pump brings back what it takes, as warm as it was."""
SECONDS_PER_MIN = 60.0
GAP_SHARE = 1.5
SHOWS_FLOW = frozenset({StepKind.HEAT, StepKind.REST, StepKind.CIRCULATE, StepKind.BOIL, StepKind.HOP_STAND})
"""Steps in which a pump that runs moves something past the flow switch."""


class Seen(NamedTuple):
    """What the tick goes by. `dt_s` is the time that counts, `unlinked_since_s` None while the board is linked.

    `touched`: the brewer did something to what is in the kettle.
    """

    control: ProbeMemory
    probes: Memories
    bed_c: float | None
    above_bed_c: float
    ambient_c: float
    path: trail.Trail
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
    """All that the rules may go by in this tick."""
    kettle, stage, row, wish, control = plan.kettle, sequenced.stage, sequenced.row, sequenced.wish, seen.control
    board, before = inputs.health.board, state.evidence
    step = current_step(plan, stage)
    heats, drawing_off = wish.heats, state.drawing_off(seen.now_s)
    if drawing_off or state.batch is not BatchState.RUNNING:
        armed, armed_target_c = before.armed, before.armed_target_c
    else:
        armed, armed_target_c = armed_for(before, wish.target_c, control.good_c)
    running = state.batch is BatchState.RUNNING
    pumps = board is not None and board.pump_on
    moved = seen.touched or pumps != before.pumping or drawing_off or (running and _pours(step, sequenced))
    moved_s = seen.now_s if moved else before.moved_s
    still_s = seen.now_s - moved_s
    applied = _applied(kettle, board)
    recent_fraction = max(applied, before.recent_fraction * (1.0 - min(seen.dt_s / HEAT_LEFT_S, 1.0)))
    fallen_c = _fallen_c(seen) if heats and still_s >= SETTLES_S else 0.0
    heating = Heating(
        kettle,
        state.ledger,
        control.good_c,
        seen.ambient_c,
        applied,
        recent_fraction,
        not (state.outputs.heater_permille or state.outputs.main_contactor_on),
        moved,
        still_s,
        fallen_c > FALLING_C,
        running and heats and not isinstance(step, AskStep),
        step is not None and step.kind is StepKind.BOIL,
        wish.target_c,
        stage.begun_s,
        seen.now_s,
        seen.dt_s,
    )
    watch = heat_watch.followed(before.watch, heating)
    on = NOTHING_FELT if board is None else felt(before.felt, board.inputs, kettle)
    claimed = state.ledger.volume_l is not None
    shows_flow = BoardInput.FLOW in kettle.inputs and step is not None and step.kind in SHOWS_FLOW
    return Evidence(
        batch=state.batch,
        kind=None if step is None else step.kind,
        control_c=control.good_c,
        stale_s=NEVER_HEARD_S if control.heard_s is None else seen.now_s - control.heard_s,
        bad_streak=control.bad_streak,
        mostly_bad=control.mostly_bad,
        limit_c=kettle.safety.limit_c,
        over_c=None if wish.target_c is None or control.good_c is None else control.good_c - wish.target_c,
        armed=armed,
        armed_target_c=armed_target_c,
        overdue_s=_overdue_s(step, row, stage, seen.now_s) if heats else -NEVER_HEARD_S,
        hold_limit_s=row.hold_limit_s if row is not None and heats else None,
        held_s=seen.now_s - stage.begun_s,
        hands_in=row is not None and row.hands_in,
        sinking=bool(sequenced.schedule) and additions.sinking(sequenced.schedule),
        mash=state.ledger.grain is Grain.IN,
        hot_pump=calls.was_answered(stage.answered, HOT_CUP if drawing_off else HOSES)
        and (drawing_off or (row is not None and row.hot_pump)),
        heats_with_pump=row is not None and row.heats_with_pump,
        drawing_off=drawing_off,
        volume_l=state.ledger.volume_l,
        cover_l=kettle.element_cover_l,
        stale_after_s=_stale_after_s(kettle, state.arming),
        over_allowed_c=kettle.safety.over_set_point_c,
        unlinked_s=0.0 if seen.unlinked_since_s is None else seen.now_s - seen.unlinked_since_s,
        journal_failing=inputs.journal_failing,
        wants_heat=heats,
        wants_pump=wish.pump_on,
        moved_s=moved_s,
        recent_fraction=recent_fraction,
        pumping=pumps,
        watch=watch,
        open_s=0.0 if watch.open_since_s is None else seen.now_s - watch.open_since_s,
        fallen_c=fallen_c if recent_fraction >= WARM_FRACTION else 0.0,
        apart_c=_apart_c(kettle, seen) if len(seen.probes) > 1 else 0.0,
        bed_lag_c=_bed_lag_c(kettle, seen, recent_fraction) if _stream_shows(seen, step, pumps, still_s) else 0.0,
        felt=on,
        wet=claimed and (before.wet or (board is not None and not on.level)),
        dry_s=before.dry_s + seen.dt_s if on.level and claimed else 0.0,
        beyond_told=board is not None and _beyond(state, board),
        flow_wanted=shows_flow and pumps and not on.flow,
        flow_stray=on.flow and shows_flow and not (pumps or state.outputs.pump_on or drawing_off),
        boots_s=_boots_s(state, board, seen.now_s),
        last_token=before.last_token if board is None else board.acted_on,
        now_s=seen.now_s,
        unattended=_unattended(plan, step, stage),
        stays_cold=_unattended(plan, step, stage) and _stays_cold(plan, state, sequenced, inputs.at_utc_s),
    )


def _pours(step: AnyStep | None, sequenced: Sequenced) -> bool:
    """Whether liquid may come, go or be stirred unannounced, or something else goes in."""
    return (
        isinstance(step, AskStep)
        or (step is not None and (step.kind is StepKind.CHILL or sequenced.stage.name == "cool"))
        or (bool(sequenced.schedule) and additions.any_open(sequenced.schedule))
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
    means_c, now_c = seen.path.values_c, seen.control.good_c
    return 0.0 if len(means_c) < FALL_BEGUN or now_c is None else means_c[-FALL_BEGUN] - now_c


def _apart_c(kettle: Kettle, seen: Seen) -> float:
    """By how much probes in the control probe's place read otherwise; 0 where one of them is not believed."""
    apart_c, control_c = 0.0, seen.control.good_c
    for probe, memory in zip(kettle.probes, seen.probes, strict=True):
        if probe.role is ProbeRole.SAME_PLACE and memory.good_c is not None and control_c is not None:
            fresh = seen.now_s - memory.good_s <= kettle.safety.stale_after_s
            apart_c = max(apart_c, abs(memory.good_c - control_c)) if fresh else apart_c
    return apart_c


def _stream_shows(seen: Seen, step: AnyStep | None, pumps: bool, still_s: float) -> bool:
    """Whether what comes back from the bed may be compared with what goes up."""
    return pumps and len(seen.probes) > 1 and still_s >= SETTLES_S and step is not None and step.kind in PUMPS_ROUND


def _bed_lag_c(kettle: Kettle, seen: Seen, recent_fraction: float) -> float:
    """How much further the returning stream is from the control probe than the heater's work on it can make it."""
    control_c = seen.control.good_c
    for probe, memory in zip(kettle.probes, seen.probes, strict=True):
        if probe.role is ProbeRole.RETURN and memory.good_c is not None and control_c is not None:
            stream_w_per_k = WATER_J_PER_KG_K * kettle.pump_l_per_min / SECONDS_PER_MIN
            return abs(control_c - memory.good_c) - GAP_SHARE * kettle.heater_w * recent_fraction / stream_w_per_k
    return 0.0


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
    if at.phase is not Phase.NOT_ARMED or calls.was_answered(stage.answered, COLD):
        return False
    due = any(call.kind is CallKind.COLD for call in sequenced.calls)
    past = plan.ready_at_utc_s is not None and at_utc_s >= plan.ready_at_utc_s
    return at.lost or (stage.name == WAIT and (due or past))


def _unattended(plan: Plan, step: AnyStep | None, stage: StageState) -> bool:
    if not isinstance(step, HeatStep) or not step.ready or plan.ready_at_utc_s is None:
        return False
    return not calls.was_answered(stage.answered, calls.Wanted(kind=CallKind.PRESENT))
