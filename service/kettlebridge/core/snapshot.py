"""The view of a batch at one tick, for whoever may look: codes and numbers, no words."""

from __future__ import annotations

from kettlebridge.core.boil_over import Pot, risk
from kettlebridge.core.calls import CALL_ROWS, Call, CallKind
from kettlebridge.core.ledger import litres_asked
from kettlebridge.core.probes import ProbeMemory, control_memory
from kettlebridge.core.sequencer import current_step
from kettlebridge.core.stage import remaining_s
from kettlebridge.core.state import State
from kettlebridge.core.steps.boil import off_the_boil, stand_by_c
from kettlebridge.core.steps.heat import WAIT
from kettlebridge.core.thermal import bed_c
from kettlebridge.model.ids import BatchId
from kettlebridge.model.kettle import Probe
from kettlebridge.model.plan import (
    AnyStep,
    AskKind,
    AskStep,
    BoilStep,
    ChillStep,
    CirculateStep,
    HeatStep,
    HopStandStep,
    Plan,
    RestStep,
)
from kettlebridge.model.snapshot import ArmingView, CallView, OutputsView, ProbeView, Snapshot, StepView
from kettlebridge.model.units import J_PER_KWH

BOILS = "boil"
FOAMS = frozenset({"stand_by", "approach", BOILS})
"""Stages of a boil in which it may run over."""


def snapshot(plan: Plan, batch: BatchId, state: State) -> Snapshot:
    """What a person may see after the tick that left `state`."""
    board = state.health.board
    return Snapshot(
        kettle=plan.kettle.name,
        batch=batch,
        profile=plan.profile.name,
        n=state.n,
        now_s=state.now_s,
        at_utc_s=state.at_utc_s,
        state=state.batch,
        hold_cause=state.hold_cause,
        temperature_c=control_memory(plan.kettle.probes, state.probes).good_c,
        bed_c=bed_c(state.thermal),
        arming=_arming(plan, state),
        boil_over=_boil_over(plan, state),
        step=_step_view(plan, state),
        calls=tuple(_call_view(plan, state, call) for call in state.calls),
        probes=tuple(
            _probe_view(probe, memory, state.now_s)
            for probe, memory in zip(plan.kettle.probes, state.probes, strict=True)
        ),
        outputs=OutputsView(
            heater_duty_fraction=state.duty_fraction,
            heater_permille=state.outputs.heater_permille,
            pump_on=state.outputs.pump_on,
            main_contactor_on=state.outputs.main_contactor_on,
            board_heater_permille=None if board is None else board.heater_permille,
            board_pump_on=None if board is None else board.pump_on,
            board_main_contactor_closed=None if board is None else board.main_contactor_closed,
        ),
        alarms=state.alarms,
        linked=state.health.linked,
        volume_l=state.ledger.volume_l,
        energy_kwh=state.ledger.energy_j / J_PER_KWH,
        recorded=not state.journal_failing,
        boards=state.health.boards,
        later_s=state.stage.later_s,
    )


def _arming(plan: Plan, state: State) -> ArmingView | None:
    step = current_step(plan, state.stage)
    waits = isinstance(step, HeatStep) and step.ready and state.stage.name == WAIT
    if not waits or plan.ready_at_utc_s is None:
        return None
    return ArmingView(phase=state.arming.phase.value, reason=state.arming.refused, ready_at_utc_s=plan.ready_at_utc_s)


def _boil_over(plan: Plan, state: State) -> str | None:
    stage, kettle = state.stage, plan.kettle
    step = current_step(plan, stage)
    control_c = control_memory(kettle.probes, state.probes).good_c
    if not isinstance(step, BoilStep) or stage.name not in FOAMS or control_c is None or state.ledger.volume_l is None:
        return None
    left_s = remaining_s(step, stage) or 0.0
    made_s = [made.made_before_end_s - left_s for made in state.schedule if made.made_before_end_s is not None]
    boils = stage.name == BOILS
    pot = Pot(
        capacity_l=kettle.capacity_l,
        volume_l=state.ledger.volume_l,
        power_w=kettle.heater_w * state.duty_fraction,
        under_c=0.0 if boils else kettle.boil_c - control_c,
        rise_c_per_min=0.0 if boils else state.trail.rise_c,
        boiled_s=stage.timer_s if boils else 0.0,
        added_s=min(made_s, default=None),
    )
    return risk(pot).value


def target_c(plan: Plan, state: State) -> float | None:
    """The temperature that the step in hand is about, None for one that is about none."""
    step = current_step(plan, state.stage)
    if state.stage.target_c is not None:
        return state.stage.target_c
    if isinstance(step, BoilStep):
        if state.stage.name in {"climb", "stand_by"}:
            return stand_by_c(plan.kettle, state.stage)
        return state.stage.boil_c or plan.kettle.boil_c
    if isinstance(step, HeatStep | ChillStep):
        return step.to_c
    if isinstance(step, RestStep | HopStandStep | CirculateStep):
        return step.at_c
    return step.keep_c if isinstance(step, AskStep) else None


def _step_view(plan: Plan, state: State) -> StepView | None:
    step = current_step(plan, state.stage)
    if step is None:
        return None
    return StepView(
        index=state.stage.step_index,
        count=len(plan.profile.steps),
        name=step.name,
        kind=step.kind,
        stage=state.stage.name,
        target_c=target_c(plan, state),
        begun_s=state.stage.step_begun_s,
        remaining_s=_remaining_s(step, state),
        coming_back=_coming_back(plan, state),
    )


def _coming_back(plan: Plan, state: State) -> bool:
    stage = state.stage
    control_c = control_memory(plan.kettle.probes, state.probes).good_c
    boils = isinstance(current_step(plan, stage), BoilStep) and stage.name == BOILS
    return boils and control_c is not None and off_the_boil(control_c, stage.boil_c or plan.kettle.boil_c)


def _remaining_s(step: AnyStep, state: State) -> float | None:
    left_s = remaining_s(step, state.stage)
    return None if left_s is None else max(left_s, 0.0)


def _call_view(plan: Plan, state: State, call: Call) -> CallView:
    step = current_step(plan, state.stage)
    about_ask = call.kind is CallKind.ASK and isinstance(step, AskStep)
    return CallView(
        id=call.id,
        kind=call.kind.value,
        subject=call.subject,
        due_s=call.raised_s,
        raised_s=call.raised_s,
        at_kettle=call.at_kettle,
        text=step.text if about_ask and isinstance(step, AskStep) else "",
        litres=litres_asked(step, plan) if about_ask and isinstance(step, AskStep) else None,
        kg=_kg(plan, state, call),
        overdue=state.now_s - call.raised_s > CALL_ROWS[call.kind].alarm_s,
    )


def _kg(plan: Plan, state: State, call: Call) -> float | None:
    if call.kind is CallKind.ADDITION:
        return state.schedule[call.index].addition.grams / 1000.0
    if call.subject == AskKind.DOUGH_IN.value:
        return plan.profile.water.grain_kg
    return None


def _probe_view(probe: Probe, memory: ProbeMemory, now_s: float) -> ProbeView:
    return ProbeView(
        probe=probe.name,
        value_c=memory.good_c,
        age_s=None if memory.good_c is None else now_s - memory.good_s,
        fault=memory.fault,
    )
