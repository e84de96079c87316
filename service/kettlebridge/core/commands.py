"""What each command does. HANDLERS is the whole law; whether it may be given in a state is core.batch_states'.

A handler returns the changed state and its events, or the reason code of a refusal. Who is told what by a reason
is decided where words are made.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from kettlebridge.core import additions, alarms, calls, ledger
from kettlebridge.core.arming_commands import arm, disarm
from kettlebridge.core.batch_states import TRANSITIONS, leads_to
from kettlebridge.core.calls import Call, CallKind
from kettlebridge.core.interlocks import INTERLOCKS, PUMP_HOT_C
from kettlebridge.core.measured import take_measurement
from kettlebridge.core.probes import control_memory, is_fresh
from kettlebridge.core.relay_window import taken_down
from kettlebridge.core.sequencer import current_step, is_addition_call, row_of, without_stage_calls
from kettlebridge.core.stage import StageState, added_later_s, begun_anew, remaining_s
from kettlebridge.core.state import State
from kettlebridge.core.steps.heat import for_grain_c
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import LOWERING, Command, CommandKind
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.kettle import ProbeRole
from kettlebridge.model.plan import (
    COLDEST_GRAIN_C,
    HEAT_MAX_C,
    HOTTEST_GRAIN_C,
    STAND_MAX_C,
    AskStep,
    BoilStep,
    CirculateStep,
    HeatStep,
    HopStandStep,
    Plan,
    RestStep,
    StepKind,
)
from kettlebridge.model.reading import BoardInput

REMEMBERED = 64
RAISING_AGE_TICKS = 10
DRAW_OFF_MOST_S = 30.0
DRAW_OFF_PULSE_S = 2.0
DRAW_OFF_AGAIN_S = 60.0
JUST_RAISED_S = 2.0
"""A button pressed so soon after a call cannot have meant it: one push must not answer two calls."""
MOST_EXTEND_MIN = 240.0
COLDEST_TARGET_C = 5.0
UNDER_THE_BOIL_C = 1.0
"""So far under it nothing boils that is only to be held: weather moves the boil by up to 0.8 °C."""
MOST_WATER_L = 200.0
COLD_APART_C = 2.0
AGAIN = "again"
"""The reason of a command that was taken before."""
RETURNS = frozenset({CommandKind.START, CommandKind.CARRY_ON, CommandKind.RESET})
"""What leads back to heat after a stop."""

PAUSED = frozenset({BatchState.HOLDING, BatchState.HELD, BatchState.ABORTING, BatchState.ABORTED})

Events = tuple[Event, ...]
Handled = tuple[State, Events] | str


def take(plan: Plan, state: State, command: Command) -> tuple[State, Events]:
    """The state after `command`, with an event that says it was taken, or refused and why.

    The same command sent twice acts once; one that lowers acts each time it comes.
    """
    again = command.key in state.recent
    if again and command.kind not in LOWERING:
        return state, (_verdict(EventCode.COMMAND_TAKEN, command, AGAIN),)
    handled = _handle(plan, state, command)
    if isinstance(handled, str):
        code, reason = (EventCode.COMMAND_TAKEN, AGAIN) if again else (EventCode.COMMAND_REFUSED, handled)
        return state, (_verdict(code, command, reason),)
    after, events = handled
    to = leads_to(state.batch, command.kind, begun=state.stage.begun)
    if to is not state.batch:
        after, changed = moved(after, to, command.who)
        events = (*events, *changed)
    after = after._replace(recent=(*after.recent, command.key)[-REMEMBERED:])
    return after, (_verdict(EventCode.COMMAND_TAKEN, command, None), *events)


def moved(state: State, to: BatchState, cause: str | None) -> tuple[State, Events]:
    """The batch in another state of ISA-88; `cause` is kept while it is held."""
    event = Event(code=EventCode.BATCH_STATE, values=(("from", state.batch.value), ("to", to.value), ("cause", cause)))
    kept = state.hold_cause if cause is None else cause
    return (
        state._replace(
            batch=to,
            batch_since_s=state.now_s,
            hold_cause=kept if to in PAUSED else None,
            calls=() if to is BatchState.STOPPING else state.calls,
            window=taken_down(state.window, state.now_s),
            draw_off_s=None,
        ),
        (event,),
    )


def _handle(plan: Plan, state: State, command: Command) -> Handled:
    if command.kind not in TRANSITIONS[state.batch]:
        return f"not_in_{state.batch.value.lower()}"
    seen_n = command.seen_n
    if command.kind not in LOWERING and seen_n is not None and not 0 <= state.n - seen_n <= RAISING_AGE_TICKS:
        return "seen_too_long_ago" if seen_n < state.n else "seen_in_another_batch"
    if command.kind in RETURNS and BoardInput.STOP in state.inputs_on & plan.kettle.inputs:
        return "stop_still_pressed"
    return HANDLERS[command.kind](plan, state, command)


def _verdict(code: EventCode, command: Command, reason: str | None) -> Event:
    return Event(
        code=code,
        values=(
            ("command", command.id),
            ("kind", command.kind.value),
            ("who", command.who),
            ("at_kettle", command.at_kettle),
            ("reason", reason),
        ),
    )


def _just(plan: Plan, state: State, command: Command) -> Handled:
    return state, ()


def _stop(plan: Plan, state: State, command: Command) -> Handled:
    """A batch ended after a stop of all heat leaves that to the next one: only at the kettle is it undone."""
    if state.batch is not BatchState.ABORTED:
        return state, ()
    after, events = alarms.latched(state.alarms, alarms.AlarmCause.HEAT_STOPPED, state.now_s)
    return state._replace(alarms=after), events


def _start(plan: Plan, state: State, command: Command) -> Handled:
    if current_step(plan, state.stage) is None:
        return "nothing_left"
    if not is_fresh(plan.kettle, state.probes, state.now_s):
        return "no_temperature"
    if not state.stage.begun and _disagree(plan, state):
        return "probes_disagree"
    if state.stage.begun:
        return _carry_on(plan, state, command)
    if not command.at_kettle and any(record.safety for record in state.alarms):
        return "at_kettle_only"
    return _reset_alarms(state)


def _carry_on(plan: Plan, state: State, command: Command) -> Handled:
    if not command.at_kettle:
        return "at_kettle_only"
    for row, since_s in zip(INTERLOCKS, state.timers, strict=True):
        if row.trips and since_s is not None:
            return f"still_{row.code}"
    if not is_fresh(plan.kettle, state.probes, state.now_s):
        return "no_temperature"
    return _reset_alarms(state._replace(stage=begun_anew(state.stage, state.now_s)))


def _disagree(plan: Plan, state: State) -> bool:
    """Whether a probe in the control probe's place reads otherwise, before anything was heated."""
    control_c = control_memory(plan.kettle.probes, state.probes).good_c
    return control_c is not None and any(
        probe.role is ProbeRole.SAME_PLACE
        and memory.good_c is not None
        and abs(memory.good_c - control_c) > COLD_APART_C
        for probe, memory in zip(plan.kettle.probes, state.probes, strict=True)
    )


def _reset_alarms(state: State) -> tuple[State, Events]:
    after, events = alarms.told(state.alarms, alarms.Signal.RESET)
    return state._replace(alarms=after), events


def _reset(plan: Plan, state: State, command: Command) -> Handled:
    return _reset_alarms(state) if command.at_kettle else "at_kettle_only"


def _confirm(plan: Plan, state: State, command: Command) -> Handled:
    call = calls.find(state.calls, command.call) if command.call is not None else _oldest(state.calls)
    if call is None:
        return "no_such_call"
    why_not = _not_confirmed(plan, state, command, call)
    if why_not is not None:
        return why_not
    litres = command.litres
    answered = calls.closed(call, command.who)
    after = state._replace(calls=calls.without(state.calls, call.id))
    if is_addition_call(call.kind):
        step = current_step(plan, state.stage)
        left_s = None if step is None else remaining_s(step, state.stage)
        schedule, events = additions.answered(after.schedule, call.index, left_s or 0.0)
        return after._replace(schedule=schedule), (answered, *events)
    stage = after.stage._replace(answered=(*after.stage.answered, (call.kind, call.index)))
    after, events = _meant(plan, after._replace(stage=stage), call, litres)
    if call.kind is CallKind.PRESENT and command.at_c is not None:
        after, told = _grain_told(plan, after, command.at_c)
        events = (*events, *told)
    return after, (answered, *events)


def _not_confirmed(plan: Plan, state: State, command: Command, call: Call) -> str | None:
    litres = command.litres
    if command.call is None and state.now_s - call.raised_s < JUST_RAISED_S:
        return "just_raised"
    if call.at_kettle and not command.at_kettle:
        return "at_kettle_only"
    if litres is not None and not 0.0 <= litres <= MOST_WATER_L:
        return "litres_out_of_range"
    if command.at_c is not None and call.kind is CallKind.PRESENT:
        return _grain_not_told(plan, command.at_c)
    if litres is not None and call.kind is CallKind.ASK and _poured_l(plan, state, litres) > plan.kettle.capacity_l:
        return "more_than_the_kettle_holds"
    return None


def _poured_l(plan: Plan, state: State, litres: float) -> float:
    """What is in the kettle once the ask in hand is confirmed with `litres`, at the least these."""
    step = current_step(plan, state.stage)
    if not isinstance(step, AskStep):
        return litres
    return max(ledger.after_ask(state.ledger, plan, step, litres, state.now_s).volume_l or 0.0, litres)


def _grain_not_told(plan: Plan, grain_c: float) -> str | None:
    if plan.profile.water.grain_c is None or not plan.profile.water.grain_kg:
        return "no_grain_temperature"
    return None if COLDEST_GRAIN_C <= grain_c <= HOTTEST_GRAIN_C else "grain_out_of_range"


def _grain_told(plan: Plan, state: State, grain_c: float) -> tuple[State, Events]:
    """The strike water made to suit the grain as it is."""
    step, stage = current_step(plan, state.stage), state.stage
    if not isinstance(step, HeatStep) or state.ledger.volume_l is None:
        return state, ()
    wanted_c = for_grain_c(step.to_c, plan.profile.water, state.ledger.volume_l, grain_c)
    if wanted_c is None:
        return state, ()
    target_c = round(min(max(wanted_c, COLDEST_TARGET_C), HEAT_MAX_C), 2)
    control_c = control_memory(plan.kettle.probes, state.probes).good_c
    over_c = None if control_c is None else round(max(control_c - target_c, 0.0), 2)
    values = (("grain_c", grain_c), ("target_c", target_c), ("over_c", over_c))
    told = Event(code=EventCode.GRAIN_TEMPERATURE, values=values)
    return state._replace(stage=stage._replace(target_c=target_c, near_since_s=None)), (told,)


def _oldest(open_calls: tuple[Call, ...]) -> Call | None:
    return min(open_calls, key=lambda call: call.raised_s, default=None)


def _meant(plan: Plan, state: State, call: Call, litres: float | None) -> tuple[State, Events]:
    """What a confirmed call says about what is in the kettle."""
    step = current_step(plan, state.stage)
    if call.kind is CallKind.ASK and isinstance(step, AskStep):
        after = ledger.after_ask(state.ledger, plan, step, litres, state.now_s)
        if after is not state.ledger:
            state = state._replace(ledger=after)
            return state, (_fill_event(after),)
    if call.kind is CallKind.TRANSFERRED:
        return state._replace(ledger=ledger.transferred(state.ledger)), ()
    return state, ()


def _fill_event(after: ledger.Ledger) -> Event:
    volume_l = None if after.volume_l is None else round(after.volume_l, 2)
    return Event(code=EventCode.FILL, values=(("volume_l", volume_l), ("grain", after.grain.value)))


def _skip(plan: Plan, state: State, command: Command) -> Handled:
    step = current_step(plan, state.stage)
    row = row_of(plan, state.stage)
    if step is None or row is None:
        return "nothing_to_skip"
    if step.kind is StepKind.ASK:
        return "confirm_instead"
    if additions.any_open(state.schedule):
        return "addition_open"
    if state.stage.step_index + 1 >= len(plan.profile.steps):
        return "last_step"
    skipped = Event(
        code=EventCode.STEP_DONE,
        values=(("index", state.stage.step_index), ("step", step.name), ("do", step.kind.value), ("skipped", True)),
    )
    stage = StageState(
        step_index=state.stage.step_index + 1,
        before_sparge_s=state.stage.before_sparge_s,
        later_s=state.stage.later_s,
    )
    _, closed = without_stage_calls(state.calls)
    return state._replace(stage=stage, calls=(), schedule=()), (*closed, skipped)


def _extend(plan: Plan, state: State, command: Command) -> Handled:
    here = state.stage.step_index
    index = here if command.step_index is None else command.step_index
    if index != here and not here < index < len(plan.profile.steps):
        return "no_such_step"
    step = plan.profile.steps[index] if index < len(plan.profile.steps) else None
    if not isinstance(step, RestStep | BoilStep | HopStandStep | CirculateStep):
        return "no_timer"
    if command.minutes is None or not -MOST_EXTEND_MIN <= command.minutes <= MOST_EXTEND_MIN:
        return "minutes_out_of_range"
    if index != here or not state.stage.name:
        added_s = max(added_later_s(state.stage, index) + command.minutes * 60.0, -step.for_min * 60.0)
        others = tuple(one for one in state.stage.later_s if one[0] != index)
        return state._replace(stage=state.stage._replace(later_s=(*others, (index, added_s)))), ()
    extra_s = max(state.stage.extra_s + command.minutes * 60.0, state.stage.timer_s - step.for_min * 60.0)
    return state._replace(stage=state.stage._replace(extra_s=extra_s)), ()


def _retarget(plan: Plan, state: State, command: Command) -> Handled:
    step = current_step(plan, state.stage)
    if not isinstance(step, HeatStep | RestStep | HopStandStep | CirculateStep):
        return "no_target"
    most_c = HEAT_MAX_C if isinstance(step, HeatStep | RestStep) else STAND_MAX_C
    hottest_c = min(most_c, plan.kettle.boil_c - UNDER_THE_BOIL_C)
    if command.target_c is None or not COLDEST_TARGET_C <= command.target_c <= hottest_c:
        return "target_out_of_range"
    stage = begun_anew(state.stage, state.now_s)._replace(target_c=command.target_c)
    return state._replace(stage=stage), ()


def _count_rest(plan: Plan, state: State, command: Command) -> Handled:
    call = next((call for call in state.calls if call.kind is CallKind.REST_BELOW), None)
    return "no_such_call" if call is None else _confirm(plan, state, replace(command, call=call.id))


def _adding_water(plan: Plan, state: State, command: Command) -> Handled:
    if command.litres is None or not 0.0 < command.litres <= MOST_WATER_L:
        return "litres_out_of_range"
    after = ledger.with_water(state.ledger, command.litres)
    if after.volume_l is None:
        return "nothing_in_the_kettle"
    if after.volume_l > plan.kettle.capacity_l:
        return "more_than_the_kettle_holds"
    return state._replace(ledger=after), (_fill_event(after),)


def _draw_off(plan: Plan, state: State, command: Command) -> Handled:
    """Hold to run: each word lets the pump run 2 s more, 30 s in a minute; `on` false lets go at once."""
    row = row_of(plan, state.stage)
    begun_s = state.now_s if state.draw_off_s is None else state.draw_off_s[0]
    if not command.on:
        return state._replace(draw_off_s=None if state.draw_off_s is None else (begun_s, state.now_s)), ()
    refusals = (
        (not command.at_kettle, "at_kettle_only"),
        (not plan.kettle.has_pump, "no_pump"),
        (row is None or row.hands_in, "hands_in"),
        (state.ledger.volume_l is None, "nothing_in_the_kettle"),
        (state.now_s >= begun_s + DRAW_OFF_MOST_S, "drawn_enough"),
    )
    why_not = next((reason for refused, reason in refusals if refused), None)
    if why_not is not None:
        return why_not
    control_c = control_memory(plan.kettle.probes, state.probes).good_c
    if control_c is not None and control_c > PUMP_HOT_C and not calls.was_answered(state.stage.answered, calls.HOT_CUP):
        return _asks_hoses(state)
    until_s = min(state.now_s + DRAW_OFF_PULSE_S, begun_s + DRAW_OFF_MOST_S)
    events = () if state.draw_off_s is not None else (Event(code=EventCode.DRAW_OFF, values=(("begun", True),)),)
    return state._replace(draw_off_s=(begun_s, until_s)), events


def _asks_hoses(state: State) -> Handled:
    """Hot liquid is drawn only after a word of its own about hoses and outlet; the pump waits for it."""
    index = state.stage.step_index
    if calls.find(state.calls, calls.call_id(index, calls.HOT_CUP)) is not None:
        return "hoses_first"
    raised, event = calls.raise_call(state.calls, index, calls.HOT_CUP, state.now_s)
    return state._replace(calls=raised), (event,)


def _acknowledge(plan: Plan, state: State, command: Command) -> Handled:
    if command.alarm is not None and all(record.cause != command.alarm for record in state.alarms):
        return "no_such_alarm"
    after, events = alarms.told(state.alarms, alarms.Signal.ACKNOWLEDGED, command.alarm)
    return state._replace(alarms=after), events


HANDLERS: dict[CommandKind, Callable[[Plan, State, Command], Handled]] = {
    CommandKind.START: _start,
    CommandKind.CONFIRM: _confirm,
    CommandKind.HOLD: _just,
    CommandKind.CARRY_ON: _carry_on,
    CommandKind.SKIP: _skip,
    CommandKind.EXTEND: _extend,
    CommandKind.RETARGET: _retarget,
    CommandKind.COUNT_REST: _count_rest,
    CommandKind.ADDING_WATER: _adding_water,
    CommandKind.MEASURED: take_measurement,
    CommandKind.DRAW_OFF: _draw_off,
    CommandKind.ACKNOWLEDGE: _acknowledge,
    CommandKind.STOP: _stop,
    CommandKind.STOP_HEAT: _just,
    CommandKind.RESET: _reset,
    CommandKind.ARM: arm,
    CommandKind.DISARM: disarm,
}
