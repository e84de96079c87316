"""From a stage's wish to what the outputs are wanted at: regulator, then relay window.

The belief about the heat is followed in every tick; the model-based law acts on it where the kettle file wants that and
no heat-up has contradicted its figures. Otherwise the PID does, which needs no belief.
"""

from __future__ import annotations

from typing import NamedTuple

from kettlebridge.brewing.water import WATER_J_PER_KG_K
from kettlebridge.core import thermal as thermals
from kettlebridge.core.bed import steady_drop_c
from kettlebridge.core.heat import Contents, loss_fraction, rise_c_per_s
from kettlebridge.core.ledger import Grain, Ledger
from kettlebridge.core.model_regulator import Aim, ceiling_fraction
from kettlebridge.core.outputs import Outputs
from kettlebridge.core.regulator import AT_REST, Loop, Regulation, Tuning, regulate, simc
from kettlebridge.core.relay_window import SHORT, SPARING, Window, switch
from kettlebridge.core.situation import Situation
from kettlebridge.core.stage import Wish
from kettlebridge.core.thermal import Thermal
from kettlebridge.model.event import Event
from kettlebridge.model.kettle import HeaterDrive, Kettle, MashTarget, RegulatorKind
from kettlebridge.model.units import S_PER_MIN

BY_MODEL, BED, CONTACTOR = RegulatorKind.MODEL, MashTarget.BED, HeaterDrive.CONTACTOR
SHORTEST_DT_S = 0.01
"""The PID divides by it; two ticks may share an instant."""


class Driven(NamedTuple):
    """What the tick keeps of it, and what a heat-up taught."""

    regulation: Regulation
    thermal: Thermal
    window: Window
    duty_fraction: float
    wants: Outputs
    events: tuple[Event, ...]


def tuning(kettle: Kettle, ledger: Ledger, pump_on: bool) -> Tuning:
    """SIMC for what the heater sees: the whole liquid, in a mash only the zone under the basket."""
    if ledger.grain is not Grain.IN:
        return simc(rise_c_per_s(kettle, Contents(volume_l=ledger.volume_l or kettle.capacity_l)), kettle.probe_delay_s)
    zone_j_per_k = WATER_J_PER_KG_K * kettle.under_basket_l
    lag_s = None
    if pump_on and kettle.pump_l_per_min > 0.0:
        lag_s = zone_j_per_k / (WATER_J_PER_KG_K * kettle.pump_l_per_min / S_PER_MIN)
    return simc(kettle.heater_w / zone_j_per_k, kettle.probe_delay_s, lag_s)


def drive(here: Situation, wish: Wish, regulation: Regulation, thermal: Thermal, window: Window) -> Driven:
    """One tick of regulator and window. No heat without a temperature and a main contactor that is ready."""
    kettle = here.kettle
    ready = here.contactor_ready or not kettle.has_main_contactor
    most_fraction = max(0.0, min(here.limit_fraction, wish.ceiling_fraction)) if ready else 0.0  # a NaN grants nothing
    thermal, events = thermals.followed(thermal, here, here.control_c) if here.control_c is not None else (thermal, ())
    duty_fraction = 0.0
    if wish.target_c is None or here.control_c is None:
        regulation = AT_REST
        if wish.fixed_fraction is not None and here.control_c is not None:
            duty_fraction = min(wish.fixed_fraction, most_fraction)
    elif by_model(kettle, thermal):
        regulation = AT_REST
        duty_fraction = thermals.wanted(thermal, kettle, _aim(here, wish.target_c, here.control_c))
        duty_fraction = min(duty_fraction, most_fraction, ceiling_fraction(here.ledger))
    else:
        loop = Loop(
            target_c=_probe_target_c(here, wish.target_c),
            measured_c=here.control_c,
            feed_fraction=loss_fraction(kettle, here.control_c, here.ambient_c),
            dt_s=max(here.dt_s, SHORTEST_DT_S),
            ceiling_fraction=min(most_fraction, ceiling_fraction(here.ledger)),
        )
        regulation, duty_fraction = regulate(regulation, tuning(kettle, here.ledger, wish.pump_on), loop)
    pulses = (SHORT if wish.short_pulses else SPARING)[kettle.drive]
    window, heater_permille = switch(window, duty_fraction, pulses, here.now_s, here.dt_s)
    pump_on, main_contactor_on = wish.pump_on and kettle.has_pump, wish.heats and kettle.has_main_contactor
    wants = Outputs(heater_permille, pump_on, main_contactor_on, wish.buzzer)
    return Driven(regulation, thermal, window, duty_fraction, wants, events)


def by_model(kettle: Kettle, thermal: Thermal) -> bool:
    """Whether the model-based law acts."""
    return kettle.regulator is BY_MODEL and thermal.fits and thermal.estimate is not None


def controlled_bed_c(kettle: Kettle, thermal: Thermal) -> float | None:
    """The grain bed's temperature where it is what is being controlled; None elsewhere: the control probe is."""
    controlled = kettle.mash_target is BED and by_model(kettle, thermal)
    return thermals.bed_c(thermal) if controlled else None


def _probe_target_c(here: Situation, target_c: float) -> float:
    """What the PID holds the probe at: above the target by what the bed lacks, by the file's figures."""
    if here.ledger.grain is not Grain.IN or not here.pumping or here.kettle.mash_target is not MashTarget.BED:
        return target_c
    return target_c + steady_drop_c(here.kettle, here.kettle.loss_w_per_k * (target_c - here.ambient_c))


def _aim(here: Situation, target_c: float, reading_c: float) -> Aim:
    contactor = here.kettle.drive is CONTACTOR
    return Aim(target_c, reading_c, contactor)
