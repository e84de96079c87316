"""An arming followed through a tick: what the tick knows of it, and the calls that are over with it."""

from __future__ import annotations

from kettlebridge.core import calls
from kettlebridge.core.arming import followed
from kettlebridge.core.arming_phases import Shown
from kettlebridge.core.arming_state import Phase, without_calls
from kettlebridge.core.by_board import restarted
from kettlebridge.core.here import Seen
from kettlebridge.core.probes import is_lately
from kettlebridge.core.sequencer import current_step
from kettlebridge.core.state import State
from kettlebridge.core.steps.heat import ATTENDED, WAIT
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.event import Event
from kettlebridge.model.inputs import Inputs
from kettlebridge.model.plan import HeatStep, Plan


def watched(plan: Plan, state: State, inputs: Inputs, seen: Seen) -> tuple[State, tuple[Event, ...]]:
    """The state with its arming one tick further."""
    before = state.arming
    if before.phase is Phase.NOT_ARMED:
        return state, ()
    after, events = followed(before, _shown(plan, state, inputs, seen))
    if after.phase is before.phase:
        return (state if after is before else state._replace(arming=after)), events
    kept, closed = without_calls(state.calls)
    return state._replace(arming=after, calls=kept), (*events, *closed)


def _shown(plan: Plan, state: State, inputs: Inputs, seen: Seen) -> Shown:
    step, stage = current_step(plan, state.stage), state.stage
    ready = isinstance(step, HeatStep) and step.ready
    return Shown(
        kettle=plan.kettle,
        health=inputs.health,
        running=state.batch is BatchState.RUNNING,
        waits=ready and stage.name == WAIT,
        concerns=ready and not any(calls.was_answered(stage.answered, one) for one in ATTENDED),
        control_c=seen.control.good_c,
        fresh=is_lately(plan.kettle, seen.control, seen.now_s),
        volume_l=state.ledger.volume_l,
        answered=stage.answered,
        alarmed=any(record.safety for record in state.alarms),
        restarted=restarted(state, inputs.health.board),
        now_s=seen.now_s,
        at_utc_s=inputs.at_utc_s,
    )
