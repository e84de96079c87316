"""The simulator's truth for a kettle file: a vessel about as the file says, with probes that need its calibration."""

from __future__ import annotations

from dataclasses import replace

from kettlebridge.model.kettle import ChillWay, HeaterDrive, Kettle, Probe, ProbeRole
from kettlesim.plant.body import Body, Chill, Switch
from kettlesim.world import World

CHILL: dict[ChillWay, Chill] = {ChillWay.IN_KETTLE: Chill.IN_KETTLE, ChillWay.IN_LINE: Chill.IN_LINE}
SWITCH: dict[HeaterDrive, Switch] = {HeaterDrive.SSR: Switch.SSR, HeaterDrive.CONTACTOR: Switch.CONTACTOR}

PLACES: dict[ProbeRole, str] = {
    ProbeRole.CONTROL: "control",
    ProbeRole.SAME_PLACE: "control",
    ProbeRole.RETURN: "return",
    ProbeRole.AMBIENT: "ambient",
    ProbeRole.FERMENTER: "ambient",
    ProbeRole.SPARGE: "ambient",
    ProbeRole.CHILLER_OUT: "chiller_out",
}
"""Where in the simulated world a probe of each role sits."""

HIGHEST_M = 5000.0
BISECTIONS = 40


def body_of(kettle: Kettle) -> Body:
    """A vessel of the file's size, power, litres and boiling point; what no file says is mid-range."""
    figures = Body.from_figures(
        capacity_l=kettle.capacity_l,
        heater_w=kettle.heater_w,
        pump_l_per_min=kettle.pump_l_per_min,
        chill=CHILL[kettle.chill],
    )
    return replace(
        figures,
        under_basket_l=kettle.under_basket_l,
        element_cover_l=kettle.element_cover_l,
        wall_outside_w_per_k=kettle.loss_w_per_k,
        absorption_l_per_kg=kettle.grain_absorption_l_per_kg,
        switch=SWITCH[kettle.drive],
        altitude_m=_altitude_m(figures, kettle.boil_c),
    )


def _altitude_m(figures: Body, boil_c: float) -> float:
    """The altitude at which water boils at `boil_c`."""
    low_m, high_m = 0.0, HIGHEST_M
    for _ in range(BISECTIONS):
        middle_m = (low_m + high_m) / 2.0
        if replace(figures, altitude_m=middle_m).saturation_c > boil_c:
            low_m = middle_m
        else:
            high_m = middle_m
    return low_m


def read_c(world: World, probe: Probe) -> float:
    """What `probe` reads now, before its calibration is applied."""
    return (world.reading_c(PLACES[probe.role]) - probe.offset_c) / probe.gain
