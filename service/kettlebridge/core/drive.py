"""From a stage's wish to what the outputs are wanted at: regulator, then relay window."""

from __future__ import annotations

from typing import NamedTuple

from kettlebridge.core.heat import WATER_J_PER_KG_K, Contents, loss_fraction, rise_c_per_s
from kettlebridge.core.ledger import Grain, Ledger
from kettlebridge.core.outputs import Outputs
from kettlebridge.core.regulator import AT_REST, Loop, Regulation, Tuning, regulate, simc
from kettlebridge.core.relay_window import QUANTUM_S, Window, switch
from kettlebridge.core.stage import Wish
from kettlebridge.model.kettle import Kettle

SHORTEST_DT_S = 0.01
"""The PID divides by it; two ticks may share an instant."""
SECONDS_PER_MIN = 60.0


class Situation(NamedTuple):
    """What the liquid is like now. `contactor_closed` is the board's word for the main contactor."""

    kettle: Kettle
    ledger: Ledger
    control_c: float | None
    ambient_c: float
    limit_fraction: float
    contactor_closed: bool
    now_s: float
    dt_s: float


class Driven(NamedTuple):
    """What the tick keeps of it."""

    regulation: Regulation
    window: Window
    duty_fraction: float
    wants: Outputs


def tuning(kettle: Kettle, ledger: Ledger, pump_on: bool) -> Tuning:
    """SIMC for what the heater sees: the whole liquid, in a mash only the zone under the basket."""
    if ledger.grain is not Grain.IN:
        return simc(rise_c_per_s(kettle, Contents(volume_l=ledger.volume_l or kettle.capacity_l)), kettle.probe_delay_s)
    zone_j_per_k = WATER_J_PER_KG_K * kettle.under_basket_l
    lag_s = None
    if pump_on and kettle.pump_l_per_min > 0.0:
        lag_s = zone_j_per_k / (WATER_J_PER_KG_K * kettle.pump_l_per_min / SECONDS_PER_MIN)
    return simc(kettle.heater_w / zone_j_per_k, kettle.probe_delay_s, lag_s)


def drive(here: Situation, wish: Wish, regulation: Regulation, window: Window) -> Driven:
    """One tick of regulator and window. No heat without a temperature and a main contactor read back closed."""
    kettle = here.kettle
    ready = here.contactor_closed or not kettle.has_main_contactor
    ceiling_fraction = max(0.0, min(wish.ceiling_fraction, here.limit_fraction)) if ready else 0.0
    duty_fraction = 0.0
    if wish.target_c is not None and here.control_c is not None:
        loop = Loop(
            target_c=wish.target_c,
            measured_c=here.control_c,
            feed_fraction=loss_fraction(kettle, here.control_c, here.ambient_c),
            dt_s=max(here.dt_s, SHORTEST_DT_S),
            ceiling_fraction=ceiling_fraction,
        )
        regulation, duty_fraction = regulate(regulation, tuning(kettle, here.ledger, wish.pump_on), loop)
    else:
        regulation = AT_REST
        if wish.fixed_fraction is not None and here.control_c is not None:
            duty_fraction = min(wish.fixed_fraction, ceiling_fraction)
    window, heater_permille = switch(window, duty_fraction, QUANTUM_S[kettle.drive], here.now_s, here.dt_s)
    return Driven(
        regulation=regulation,
        window=window,
        duty_fraction=duty_fraction,
        wants=Outputs(
            heater_permille=heater_permille,
            pump_on=wish.pump_on and kettle.has_pump,
            main_contactor_on=wish.heats and kettle.has_main_contactor,
            buzzer=wish.buzzer,
        ),
    )
