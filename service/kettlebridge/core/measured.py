"""What the brewer measured: recorded as read and as corrected; a volume corrects what is in the kettle.

A measured volume makes no claim of liquid: only a confirmed filling does. Like added water it moves one that stands.
"""

from __future__ import annotations

from kettlebridge.brewing.gravity import plato
from kettlebridge.brewing.measuring import (
    HYDROMETER,
    HYDROMETER_C,
    HYDROMETER_SG,
    REFRACTOMETER,
    REFRACTOMETER_BRIX,
    SCALE,
    Read,
    by_hydrometer,
    by_refractometer,
    liquid_l,
)
from kettlebridge.core.ledger import measured as corrected
from kettlebridge.core.probes import control_memory
from kettlebridge.core.state import State
from kettlebridge.model.command import Command
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.plan import Plan

Events = tuple[Event, ...]
LIQUID_C = (0.0, 101.0)


def take_measurement(plan: Plan, state: State, command: Command) -> tuple[State, Events] | str:
    """The state and what is recorded, or the reason code of a refusal."""
    if command.litres is not None:
        return _volume(plan, state, command.litres, command.at_c)
    if command.gravity_sg is not None:
        return _by_hydrometer(state, Read(value=command.gravity_sg, at_c=command.at_c))
    if command.brix is not None:
        return _by_refractometer(state, Read(value=command.brix, at_c=command.at_c))
    return "nothing_measured"


def _volume(plan: Plan, state: State, scale_l: float, said_c: float | None) -> tuple[State, Events] | str:
    """The liquid is as warm as the control probe says, unless the brewer says otherwise."""
    at_c = control_memory(plan.kettle.probes, state.probes).good_c if said_c is None else said_c
    if state.ledger.volume_l is None:
        return "nothing_in_the_kettle"
    if at_c is None:
        return "no_temperature"
    if not LIQUID_C[0] <= at_c <= LIQUID_C[1]:
        return "sample_out_of_range"
    if not 0.0 < scale_l <= plan.kettle.capacity_l:
        return "more_than_the_kettle_holds" if scale_l > plan.kettle.capacity_l else "litres_out_of_range"
    volume_l = liquid_l(scale_l, at_c, state.ledger.grain_kg)
    if volume_l <= 0.0:
        return "litres_out_of_range"
    event = Event(
        code=EventCode.MEASURED,
        values=(
            ("what", "volume"),
            ("by", SCALE),
            ("read", scale_l),
            ("at_c", round(at_c, 2)),
            ("volume_l", round(volume_l, 3)),
            ("counted_l", round(state.ledger.volume_l, 3)),
            ("grain", state.ledger.grain.value),
        ),
    )
    return state._replace(ledger=corrected(state.ledger, volume_l)), (event,)


def _by_hydrometer(state: State, read: Read) -> tuple[State, Events] | str:
    if not HYDROMETER_SG[0] <= read.value <= HYDROMETER_SG[1]:
        return "gravity_out_of_range"
    if read.at_c is None or not HYDROMETER_C[0] <= read.at_c <= HYDROMETER_C[1]:
        return "sample_out_of_range"
    return state, (_gravity(HYDROMETER, read, by_hydrometer(read)),)


def _by_refractometer(state: State, read: Read) -> tuple[State, Events] | str:
    if not REFRACTOMETER_BRIX[0] <= read.value <= REFRACTOMETER_BRIX[1]:
        return "gravity_out_of_range"
    if read.at_c is not None and not HYDROMETER_C[0] <= read.at_c <= HYDROMETER_C[1]:
        return "sample_out_of_range"
    return state, (_gravity(REFRACTOMETER, read, by_refractometer(read)),)


def _gravity(by: str, read: Read, gravity_sg: float) -> Event:
    return Event(
        code=EventCode.MEASURED,
        values=(
            ("what", "gravity"),
            ("by", by),
            ("read", read.value),
            ("at_c", read.at_c),
            ("gravity_sg", round(gravity_sg, 5)),
            ("plato", round(plato(gravity_sg), 3)),
        ),
    )
