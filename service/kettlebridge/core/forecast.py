"""The rest of the day: when each step begins and ends, and when somebody is needed. Coarse, pure, never fed back.

A row of WAYS for each kind of step says how the walk (core.ahead) gets through it; for the step in hand it begins
where its stage is. Everything goes well: pauses, faults and absences are not foreseen.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from kettlebridge.brewing.chilling import W_PER_K_OF_L_PER_MIN, coil_effectiveness, coil_min, reachable_c
from kettlebridge.brewing.day import GRAIN_C, TAP_C
from kettlebridge.brewing.hop_plan import FALL_MIN
from kettlebridge.brewing.timetable import IN_LINE_SHARE, STAND_BY_UNDER_C
from kettlebridge.brewing.vessel import COIL_W_PER_K, COOLING_L_PER_MIN
from kettlebridge.core import ledger as ledgers
from kettlebridge.core import sparge_water
from kettlebridge.core.ahead import Walk, begun
from kettlebridge.core.boil_over import HOT_BREAK_S
from kettlebridge.core.calls import CallKind
from kettlebridge.core.hands import COME_S, HANDS_SPREAD_FRACTION, ask_s, call_s
from kettlebridge.core.heat import loss_fraction
from kettlebridge.core.ledger import Grain
from kettlebridge.core.sequencer import current_step
from kettlebridge.core.stage import StageState, added_later_s, remaining_s
from kettlebridge.core.state import State
from kettlebridge.core.steps.ask import ANNOUNCE_S
from kettlebridge.core.steps.boil import HOSES_AHEAD_S, STAND_BY_NEAR_C, TAPER_LEAST_FRACTION, TAPER_UNDER_C
from kettlebridge.core.steps.heat import READY_MARGIN_FRACTION, READY_MARGIN_S
from kettlebridge.core.steps.heating import BAND_C, NO_PUMP_CEILING_FRACTION, SETTLED_S
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.forecast import Forecast, Need, Spell, StepTimes, When
from kettlebridge.model.kettle import ChillWay
from kettlebridge.model.plan import (
    ASK_ROWS,
    USUAL_SPARGE_C,
    AdditionKind,
    AskKind,
    AskStep,
    BoilStep,
    ChillStep,
    CirculateStep,
    HeatStep,
    HopStandStep,
    Plan,
    RestStep,
    StepKind,
)
from kettlebridge.model.units import S_PER_MIN

BOIL_SEEN_SPREAD_S = 45.0
CHILL_SPREAD_FRACTION = 0.35
TOGETHER_S = 180.0
"""A pause as short as this is no time to go away."""


def forecast(plan: Plan, state: State) -> Forecast | None:
    """The rest of the day as it looks now; None where it does not go on by itself: not begun, paused or over."""
    steps, here = plan.profile.steps, state.stage.step_index
    if state.batch is not BatchState.RUNNING or current_step(plan, state.stage) is None:
        return None
    walk, times = begun(plan, state), []
    for index in range(here, len(steps)):
        walk.index = index
        begins = When(at_s=state.stage.step_begun_s, spread_s=0.0) if index == here else walk.when
        WAYS[steps[index].kind](walk, steps[index])
        walk.stage = None
        times.append(StepTimes(index=index, begins=begins, ends=walk.when))
    _sparge_water(walk, times)
    needs = tuple(sorted((*_asked_now(walk, state), *walk.needs), key=_begins_s))
    return Forecast(
        made_s=state.now_s, steps=tuple(times), needs=needs, next_spell=_spell(needs), heats_from=walk.heats_from
    )


def _sparge_water(walk: Walk, times: list[StepTimes]) -> None:
    """Its pot is put on in time for the sparge, by core.sparge_water; here that moment is foreseen."""
    needed_s = sparge_water.pot_s(walk.plan.profile.water)
    if needed_s is None or walk.state.stage.before_sparge_s is None:
        return
    sparge = next((time for time in times if sparge_water.is_sparge(walk.plan.profile.steps[time.index])), None)
    if sparge is None:
        return
    at_s = max(sparge.begins.at_s - needed_s, walk.state.now_s)
    during = next((time.index for time in reversed(times) if time.begins.at_s <= at_s), times[0].index)
    begins = When(at_s=at_s, spread_s=sparge.begins.spread_s)
    walk.needs.append(
        Need(
            index=during,
            kind=CallKind.SPARGE_WATER.value,
            subject="",
            begins=begins,
            hands_s=call_s(CallKind.SPARGE_WATER),
        )
    )


def _asked_now(walk: Walk, state: State) -> tuple[Need, ...]:
    """Calls that are open and that no step's way has foreseen."""
    now = When(at_s=state.now_s, spread_s=0.0)
    foreseen = {(need.index, need.kind) for need in walk.needs if need.begins.at_s <= state.now_s}
    return tuple(
        Need(
            index=state.stage.step_index,
            kind=call.kind.value,
            subject=call.subject,
            begins=now,
            hands_s=call_s(call.kind),
        )
        for call in state.calls
        if (state.stage.step_index, call.kind.value) not in foreseen
    )


def _begins_s(need: Need) -> float:
    return need.begins.at_s


def _spell(needs: tuple[Need, ...]) -> Spell | None:
    """The first need and all that follow on its heels."""
    if not needs:
        return None
    begin_s = needs[0].begins.at_s
    end_s = begin_s + needs[0].hands_s
    for need in needs[1:]:
        if need.begins.at_s > end_s + TOGETHER_S:
            break
        end_s = max(end_s, need.begins.at_s + need.hands_s)
    return Spell(need=needs[0], begins=needs[0].begins, lasts_s=end_s - begin_s)


def _age_s(walk: Walk, stage: StageState) -> float:
    return walk.state.now_s - stage.begun_s


def _stage_name(walk: Walk) -> str:
    return "" if walk.stage is None else walk.stage.name


def _target_c(walk: Walk, by_plan_c: float) -> float:
    return by_plan_c if walk.stage is None or walk.stage.target_c is None else walk.stage.target_c


def _left_s(walk: Walk, step: RestStep | BoilStep | HopStandStep | CirculateStep) -> float:
    """Of the step's timer."""
    if walk.stage is None:
        return max(step.for_min * 60.0 + added_later_s(walk.state.stage, walk.index), 0.0)
    return max(remaining_s(step, walk.stage) or 0.0, 0.0)


def _heat(walk: Walk, step: HeatStep) -> None:
    to_c, name = _target_c(walk, step.to_c), _stage_name(walk)
    ready_utc_s = walk.plan.ready_at_utc_s if step.ready else None
    if name == "hot_hold":
        walk.hands(CallKind.PRESENT, COME_S)
        return
    if ready_utc_s is not None and name != "heat":
        ready_s = ready_utc_s - walk.state.at_utc_s + walk.state.now_s
        needed_s = walk.heat_s(to_c) * (1.0 + READY_MARGIN_FRACTION) + READY_MARGIN_S
        walk.wait(ready_s - needed_s - walk.at_s)
        if name == "wait":
            walk.heats_from = walk.when
    walk.heat(to_c)
    near_s = None if walk.stage is None else walk.stage.near_since_s
    walk.wait(SETTLED_S if near_s is None else SETTLED_S - (walk.state.now_s - near_s))
    walk.liquid_c = max(walk.liquid_c, to_c)
    if ready_utc_s is not None and not _was_answered(walk, CallKind.PRESENT):
        walk.hands(CallKind.PRESENT, COME_S)


def _ask(walk: Walk, step: AskStep) -> None:
    litres = ledgers.litres_asked(step, walk.plan)
    lasts_s, row = ask_s(step.what, litres), ASK_ROWS[step.what]
    stage = walk.stage
    done = stage is not None and (CallKind.ASK, 0) in stage.answered
    if not done:
        if stage is not None:
            lasts_s = max(lasts_s - _age_s(walk, stage), COME_S / 2.0)
        keeps_c = step.keep_c if row.keep_max_c is not None else None
        before_c = walk.liquid_c
        walk.hands(CallKind.ASK, lasts_s, step.what.value)
        if keeps_c is not None:
            walk.liquid_c = max(walk.liquid_c, min(keeps_c, before_c))
        _filled(walk, step, litres or 0.0)
    if row.hands_in:
        if _stage_name(walk) != "announce":
            walk.hands(CallKind.HANDS_CLEAR, COME_S / 2.0)
        walk.wait(ANNOUNCE_S)


def _filled(walk: Walk, step: AskStep, litres: float) -> None:
    """What a done ask means for litres and temperature."""
    if step.what is AskKind.FILL:
        walk.liquid_c = TAP_C
    elif step.what is AskKind.DOUGH_IN:
        walk.grain_in(GRAIN_C)
    elif step.what is AskKind.SPARGE:
        walk.poured(litres, USUAL_SPARGE_C)
    elif step.what is AskKind.INFUSE:
        walk.poured(litres, step.water_c or USUAL_SPARGE_C)
    walk.ledger = ledgers.after_ask(walk.ledger, walk.plan, step, None, walk.at_s)


def _rest(walk: Walk, step: RestStep) -> None:
    at_c, stage, kettle = _target_c(walk, step.at_c), walk.stage, walk.plan.kettle
    left_s = _left_s(walk, step)
    pumps = kettle.has_pump and step.pump_after_min is not None
    if pumps and _stage_name(walk) in {"", "settle"} and walk.ledger.grain is Grain.IN:
        gone_s = 0.0 if stage is None else walk.state.now_s - stage.step_begun_s
        settles_s = min(max((step.pump_after_min or 0.0) * 60.0 - gone_s, 0.0), left_s)
        counts = walk.liquid_c >= at_c - BAND_C
        walk.stand(settles_s)
        left_s -= settles_s if counts else 0.0
    if _stage_name(walk) != "hold":
        walk.ramp(at_c, pumps, 1.0 if pumps else NO_PUMP_CEILING_FRACTION)
    walk.wait(left_s)
    walk.liquid_c = max(walk.liquid_c, at_c)


def _boil(walk: Walk, step: BoilStep) -> None:
    name, kettle = _stage_name(walk), walk.plan.kettle
    if name in {"", "climb"}:
        walk.heat(kettle.boil_c - STAND_BY_UNDER_C - STAND_BY_NEAR_C)
    _first_boil(walk)
    left_s = _left_s(walk, step)
    walk.liquid_c = kettle.boil_c
    walk.wait(left_s)
    _additions(walk, step)
    if step.sanitise_last_min is not None and not _was_answered(walk, CallKind.HOSES):
        walk.need(CallKind.HOSES, before_s=step.sanitise_last_min * 60.0 + HOSES_AHEAD_S)
    boils_off_l = (step.boil_off_l_per_h or kettle.boil_off_l_per_h) * left_s / 3600.0
    if walk.ledger.volume_l is not None:
        walk.ledger = walk.ledger._replace(volume_l=max(walk.ledger.volume_l - boils_off_l, 0.0))


def _first_boil(walk: Walk) -> None:
    """From the call to it until the hot break has passed somebody stands there, also once that call is answered."""
    if walk.stage is not None and walk.stage.name == "boil":
        left_s = HOT_BREAK_S - walk.stage.timer_s
        if left_s > 0.0:
            walk.need(CallKind.STAND_BY, hands_s=left_s)
        return
    come_s = 0.0 if _stage_name(walk) == "approach" else COME_S
    approach_s = _approach_s(walk)
    walk.need(CallKind.STAND_BY, hands_s=come_s + approach_s + HOT_BREAK_S)
    walk.wait(come_s, HANDS_SPREAD_FRACTION * come_s)
    walk.wait(approach_s, BOIL_SEEN_SPREAD_S)


def _approach_s(walk: Walk) -> float:
    """From where it waited to the boil, lid off: at full power, then at what the taper leaves."""
    kettle = walk.plan.kettle
    boil_c, from_c = kettle.boil_c, min(walk.liquid_c, kettle.boil_c)
    lost = loss_fraction(kettle, boil_c, walk.ambient_c)
    taper = max(TAPER_LEAST_FRACTION, lost + 0.5 * (1.0 - lost))
    taper_c = max(boil_c - TAPER_UNDER_C, from_c)
    return walk.open_s((from_c, taper_c), 1.0) + walk.open_s((taper_c, boil_c), taper)


def _was_answered(walk: Walk, kind: CallKind) -> bool:
    """In the step in hand."""
    return walk.stage is not None and (kind, 0) in walk.stage.answered


def _additions(walk: Walk, step: BoilStep | HopStandStep) -> None:
    """Counted back from the end of the step, where the walk is now."""
    planned = walk.state.schedule if walk.stage is not None else ()
    for place, addition in enumerate(step.additions):
        if place < len(planned) and planned[place].made_before_end_s is not None:
            continue
        sinks_s = call_s(CallKind.DISSOLVED) if addition.kind is AdditionKind.SUGAR else 0.0
        hands_s = call_s(CallKind.ADDITION) + sinks_s
        walk.need(CallKind.ADDITION, addition.name, hands_s, before_s=addition.before_end_min * 60.0)


def _hop_stand(walk: Walk, step: HopStandStep) -> None:
    at_c, name = _target_c(walk, step.at_c), _stage_name(walk)
    if step.pump and walk.plan.kettle.has_pump and not _was_answered(walk, CallKind.HOSES):
        walk.need(CallKind.HOSES)
    if name in {"", "cool"} and walk.liquid_c > at_c + BAND_C:
        walk.need(CallKind.COOL)
        walk.wait(FALL_MIN * S_PER_MIN, FALL_MIN * S_PER_MIN)
    walk.liquid_c = at_c
    walk.wait(_left_s(walk, step))
    _additions(walk, step)


def _circulate(walk: Walk, step: CirculateStep) -> None:
    at_c, name = _target_c(walk, step.at_c), _stage_name(walk)
    if name in {"", "hoses"}:
        walk.hands(CallKind.HOSES, COME_S)
    if name != "circulate":
        walk.heat(at_c - BAND_C)
    walk.liquid_c = max(walk.liquid_c, at_c)
    walk.wait(_left_s(walk, step))


def _chill(walk: Walk, step: ChillStep) -> None:
    kettle, name = walk.plan.kettle, _stage_name(walk)
    litres = max(walk.contents.volume_l - kettle.dead_space_l, 0.0)
    if (step.way or kettle.chill) is ChillWay.IN_LINE:
        if name in {"", "begin", "hoses"}:
            walk.hands(CallKind.HOSES, COME_S)
        lasts_s = litres / max(IN_LINE_SHARE * kettle.pump_l_per_min, 0.1) * 60.0
        if walk.stage is not None and name == "transfer":
            lasts_s = max(lasts_s - _age_s(walk, walk.stage), 0.0)
        walk.need(CallKind.TRANSFERRED, hands_s=lasts_s)
        walk.wait(lasts_s, CHILL_SPREAD_FRACTION * lasts_s)
        walk.ledger = ledgers.transferred(walk.ledger)
    else:
        if name in {"", "begin", "start"}:
            walk.hands(CallKind.CHILLER_ON, 2.0 * COME_S)
        exchange = coil_effectiveness(COIL_W_PER_K, COOLING_L_PER_MIN) * COOLING_L_PER_MIN * W_PER_K_OF_L_PER_MIN
        lasts_s = coil_min(litres, walk.liquid_c, reachable_c(step.to_c, step.water_c), step.water_c, exchange) * 60.0
        walk.wait(lasts_s, CHILL_SPREAD_FRACTION * lasts_s)
        walk.hands(CallKind.CHILLED, COME_S)
    walk.liquid_c = reachable_c(step.to_c, step.water_c)


Way = Callable[[Walk, Any], None]
"""Of one kind of step; a row serves steps of its own kind."""

WAYS: dict[StepKind, Way] = {
    StepKind.HEAT: _heat,
    StepKind.ASK: _ask,
    StepKind.REST: _rest,
    StepKind.BOIL: _boil,
    StepKind.HOP_STAND: _hop_stand,
    StepKind.CIRCULATE: _circulate,
    StepKind.CHILL: _chill,
}
