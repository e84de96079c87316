"""What the outputs are wanted at, and the only way an interlock may change them: down."""

from __future__ import annotations

from enum import Flag
from typing import NamedTuple

from kettlebridge.model.demand import Demand, Output
from kettlebridge.model.units import FULL_PERMILLE

HEATER, PUMP, MAIN_CONTACTOR, BUZZER = Output.HEATER, Output.PUMP, Output.MAIN_CONTACTOR, Output.BUZZER


class Lowers(Flag):
    """What a rule takes down. HEAT is heater and main contactor together: every heat trip opens both."""

    NOTHING = 0
    HEATER = 1
    CONTACTOR = 2
    PUMP = 4
    HEAT = 3
    ALL = 7


class Outputs(NamedTuple):
    """Heater in per mille, pump and main contactor on or off, the buzzer's pattern (0 silent)."""

    heater_permille: int = 0
    pump_on: bool = False
    main_contactor_on: bool = False
    buzzer: int = 0


ALL_OFF = Outputs()


def lowered(outputs: Outputs, what: Lowers) -> Outputs:
    """The outputs with what `what` names taken down; nothing can be raised here."""
    if not what:
        return outputs
    return Outputs(
        heater_permille=0 if what & Lowers.HEATER else outputs.heater_permille,
        pump_on=outputs.pump_on and not what & Lowers.PUMP,
        main_contactor_on=outputs.main_contactor_on and not what & Lowers.CONTACTOR,
        buzzer=outputs.buzzer,
    )


def demands(outputs: Outputs, ttl_ms: int, acted_on: int) -> tuple[Demand, ...]:
    """One demand per output, all of one report."""
    heater_permille, pump_on, main_contactor_on, buzzer = outputs
    return (
        Demand(HEATER, heater_permille, ttl_ms, acted_on),
        Demand(PUMP, FULL_PERMILLE * pump_on, ttl_ms, acted_on),
        Demand(MAIN_CONTACTOR, FULL_PERMILLE * main_contactor_on, ttl_ms, acted_on),
        Demand(BUZZER, buzzer, ttl_ms, acted_on),
    )
