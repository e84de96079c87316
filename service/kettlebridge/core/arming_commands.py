"""`arm` and `disarm`: what must be so before an arming may begin. REFUSALS is the whole law.

A refusal's reason is a code; words are made where people read them.
"""

from __future__ import annotations

from collections.abc import Callable

from kettlebridge.core import arming_state
from kettlebridge.core.alarms import AlarmCause
from kettlebridge.core.ledger import CLAIM_ENDS_S, Grain
from kettlebridge.core.outputs import ALL_OFF
from kettlebridge.core.probes import is_fresh
from kettlebridge.core.sequencer import current_step
from kettlebridge.core.state import State
from kettlebridge.core.steps.heat import HOT_HOLD_LIMIT_S, WAIT
from kettlebridge.model.command import Command
from kettlebridge.model.event import Event
from kettlebridge.model.plan import HeatStep, Plan

Handled = tuple[State, tuple[Event, ...]] | str


def _no_ready_time(plan: Plan, state: State) -> bool:
    return plan.ready_at_utc_s is None or not any(isinstance(s, HeatStep) and s.ready for s in plan.profile.steps)


def _not_waiting(plan: Plan, state: State) -> bool:
    step = current_step(plan, state.stage)
    return not isinstance(step, HeatStep) or not step.ready or state.stage.name != WAIT


def _begun(plan: Plan, state: State) -> bool:
    return state.arming.phase is not arming_state.Phase.NOT_ARMED


def _no_contactor(plan: Plan, state: State) -> bool:
    return not plan.kettle.has_main_contactor


def _pumps(plan: Plan, state: State) -> bool:
    step = current_step(plan, state.stage)
    return isinstance(step, HeatStep) and step.pump


def _no_water_alone(plan: Plan, state: State) -> bool:
    return state.ledger.grain is not Grain.NONE


def _no_litres(plan: Plan, state: State) -> bool:
    return state.ledger.volume_l is None


def _not_covered(plan: Plan, state: State) -> bool:
    return state.ledger.volume_l is not None and state.ledger.volume_l < plan.kettle.element_cover_l


def _too_late(plan: Plan, state: State) -> bool:
    return plan.ready_at_utc_s is not None and state.at_utc_s >= plan.ready_at_utc_s


def _litres_too_old(plan: Plan, state: State) -> bool:
    """The claim of liquid must last until nobody would be waited for any more."""
    left_s = (plan.ready_at_utc_s or 0.0) - state.at_utc_s + HOT_HOLD_LIMIT_S
    return state.ledger.claimed_s + CLAIM_ENDS_S < state.now_s + left_s


def _clock_adrift(plan: Plan, state: State) -> bool:
    return not state.clock_synchronised


def _no_board(plan: Plan, state: State) -> bool:
    return not state.health.linked or state.health.board is None


def _something_on(plan: Plan, state: State) -> bool:
    board = state.health.board
    reads_on = board is not None and bool(board.heater_permille or board.pump_on or board.main_contactor_closed)
    return reads_on or state.outputs._replace(buzzer=0) != ALL_OFF


def _no_temperature(plan: Plan, state: State) -> bool:
    return not is_fresh(plan.kettle, state.probes, state.now_s)


def _alarmed(plan: Plan, state: State) -> bool:
    """Its own alarm, that it will not heat, is what an arming mends."""
    return any(record.cause != AlarmCause.STAYS_COLD.value for record in state.alarms)


REFUSALS: tuple[tuple[Callable[[Plan, State], bool], str], ...] = (
    (_no_ready_time, "arm_no_ready_time"),
    (_not_waiting, "arm_not_waiting"),
    (_begun, "arm_begun"),
    (_no_contactor, "arm_no_contactor"),
    (_pumps, "arm_pumps"),
    (_no_water_alone, "arm_no_water_alone"),
    (_no_litres, "arm_no_litres"),
    (_not_covered, "arm_not_covered"),
    (_too_late, "arm_too_late"),
    (_litres_too_old, "arm_litres_too_old"),
    (_clock_adrift, "arm_clock_adrift"),
    (_no_board, "arm_no_board"),
    (_something_on, "arm_something_on"),
    (_no_temperature, "no_temperature"),
    (_alarmed, "arm_alarm"),
)
"""The first that holds is the reason. What the kettle's file says against it comes with the plan."""


def arm(plan: Plan, state: State, command: Command) -> Handled:
    """Begins with the evening's list."""
    why_not = next((reason for test, reason in REFUSALS if test(plan, state)), None)
    why_not = next(iter(plan.against_arming), None) if why_not is None else why_not
    if why_not is not None:
        return why_not
    begun = arming_state.begun(state.arming, state.ledger.volume_l or 0.0, state.now_s, state.at_utc_s)
    return state._replace(arming=begun), (arming_state.event(begun.phase),)


def disarm(plan: Plan, state: State, command: Command) -> Handled:
    """At any time: it stays cold, and what heats goes off."""
    if not _begun(plan, state):
        return "arm_not_armed"
    ended, event = arming_state.ended(state.arming, arming_state.AS_REQUESTED)
    kept, closed = arming_state.without_calls(state.calls)
    return state._replace(arming=ended, calls=kept), (event, *closed)
