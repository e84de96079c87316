"""One kettle in its room: the plant, the brewer's acts upon it, and what its probes and switches say."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, NamedTuple

from kettlesim.acts import (
    Act,
    AddHops,
    AddSugar,
    AddWater,
    BasketAway,
    Drain,
    DrawOff,
    GrainIn,
    LiftBasket,
    Scene,
    SetLid,
    Sparge,
    StartChiller,
    StartTransfer,
    StickBed,
    Stir,
    StopChiller,
    StopTransfer,
    done,
)
from kettlesim.plant import foam
from kettlesim.plant.body import Body, Chill
from kettlesim.plant.layout import node_capacities, under_basket_litres
from kettlesim.plant.state import Basket, Heat, PlantInputs, PlantState, boil_c, empty, litres
from kettlesim.plant.step import step

__all__ = [
    "Act",
    "AddHops",
    "AddSugar",
    "AddWater",
    "BasketAway",
    "BoardInputs",
    "Body",
    "Chill",
    "Drain",
    "DrawOff",
    "GrainIn",
    "LiftBasket",
    "Outputs",
    "SetLid",
    "Sparge",
    "StartChiller",
    "StartTransfer",
    "StickBed",
    "Stir",
    "StopChiller",
    "StopTransfer",
    "Truth",
    "World",
]

AMBIENT = "ambient"
PROBES = ("control", "return", AMBIENT, "chiller_out")
_FELT: dict[str, Callable[[Heat], float]] = {
    "control": lambda heat: heat.probe_c,
    "return": lambda heat: heat.return_probe_c,
    "chiller_out": lambda heat: heat.chiller_out_c,
}
DS18B20_STEP_C = 0.0625
DS18B20_NOISE_C = 0.05
"""Standard deviation, before the reading is rounded to a step."""
DS18B20_OFFSET_C = 0.5
"""The data sheet's limit from -10 to 85 °C; an offset is drawn evenly within it."""
_DS18B20_RANGE_C = (-55.0, 125.0)
_FOAM_SWITCH_FRACTION = 0.8
_FLOW_SWITCH_FRACTION = 0.25
_LEVEL_SWITCH_FRACTION = 1.1
"""Of the litres that cover the element."""


class Outputs(NamedTuple):
    """What the board's outputs do to the kettle; the heater heats only with the main contactor closed."""

    heater_fraction: float
    main_contactor_closed: bool
    pump_on: bool


class BoardInputs(NamedTuple):
    """What a foam switch, a low-level float and a flow sensor say: each true when it is so."""

    foam: bool
    level_low: bool
    flow: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """What no probe can know. Volumes at 20 °C."""

    bulk_c: float
    """Mean over everything that stands in the kettle, by heat capacity."""
    bed_c: float
    """Mean of the three cells: the grain bed, or the middle of plain liquid."""
    bottom_c: float
    element_c: float
    probe_c: float
    """The control probe without offset, noise and rounding."""
    volume_l: float
    boiling: bool
    boil_c: float
    extract_kg: float
    """Dissolved in the kettle."""
    foam_fraction: float
    """Of the head-space; 1 is at the rim."""
    grain_in: bool
    lid_on: bool
    basket: Literal["out", "in", "lifted"]
    fermenter_l: float
    electric_j: float
    evaporated_kg: float
    boiled_over_l: float
    """Everything that ran over the rim."""
    chiller_out_c: float


class World:
    """A kettle that starts clean, empty and at room temperature, lid off, chiller shut.

    ``probe_offset_c`` holds for every probe; without it each probe's own is drawn. The same seed and the same calls
    give the same readings; a probe that is asked twice at one moment answers the same.
    """

    def __init__(
        self,
        body: Body,
        *,
        seed: int,
        ambient_c: float = 18.0,
        mains_fraction: float = 1.0,
        probe_offset_c: float | None = None,
    ) -> None:
        self.body = body
        self.elapsed_s = 0.0
        self.mains_fraction = mains_fraction
        """Of the heater's nominal power, what the mains give now."""
        self.element_open = False
        self.pump_blocked = False
        self._scene = Scene(empty(ambient_c), PlantInputs(ambient_c=ambient_c))
        self._streams = {probe: random.Random(f"{seed}/{probe}") for probe in PROBES}  # noqa: S311
        self._offsets_c = {
            probe: stream.uniform(-DS18B20_OFFSET_C, DS18B20_OFFSET_C) if probe_offset_c is None else probe_offset_c
            for probe, stream in self._streams.items()
        }
        self._last_readings: dict[str, tuple[float, float]] = {}

    @property
    def plant(self) -> PlantState:
        """Everything, for those who need more than ``truth``."""
        return self._scene.plant

    @property
    def ambient_c(self) -> float:
        """Of the room; may be set."""
        return self._scene.setting.ambient_c

    @ambient_c.setter
    def ambient_c(self, ambient_c: float) -> None:
        self._scene = self._scene._replace(setting=self._scene.setting._replace(ambient_c=ambient_c))

    def advance(self, outputs: Outputs, dt_s: float) -> None:
        """Let ``dt_s`` pass with ``outputs`` as they are."""
        heats = outputs.main_contactor_closed and not self.element_open
        heater_w = self.body.heater_w * self.mains_fraction * outputs.heater_fraction if heats else 0.0
        plant, setting = self._scene
        inputs = PlantInputs(heater_w, outputs.pump_on and not self.pump_blocked, *setting[2:])
        self._scene = Scene(step(self.body, plant, inputs, dt_s), setting)
        self.elapsed_s += dt_s

    def act(self, act: Act) -> None:
        """Let the brewer do something, at once; ``ValueError`` says why it makes no sense."""
        self._scene = done(act, self.body, self._scene)

    def reading_c(self, probe: str) -> float:
        """What a DS18B20 at the place of ``probe`` (one of ``PROBES``) reports now."""
        last = self._last_readings.get(probe)
        if last is not None and last[0] == self.elapsed_s:
            return last[1]
        felt_c = self._felt_c(probe) + self._offsets_c[probe] + self._streams[probe].gauss(0.0, DS18B20_NOISE_C)
        low_c, high_c = _DS18B20_RANGE_C
        reading_c = min(max(round(felt_c / DS18B20_STEP_C) * DS18B20_STEP_C, low_c), high_c)
        self._last_readings[probe] = (self.elapsed_s, reading_c)
        return reading_c

    def _felt_c(self, probe: str) -> float:
        return self.ambient_c if probe == AMBIENT else _FELT[probe](self._scene.plant.heat)

    def truth(self) -> Truth:
        """The state of things as they are."""
        (heat, matter, sums), setting = self._scene
        nodes = node_capacities(self.body, self._scene.plant)
        temps = heat[2:7]
        weighted = [part * temp for part, temp in zip(nodes, temps, strict=True)]
        total = nodes[0] + nodes[1] + nodes[2] + nodes[3] + nodes[4]
        volume_l = litres(matter.water_kg, matter.extract_kg)
        fermenter_water_kg = matter.fermenter_kg - matter.fermenter_extract_kg
        return Truth(
            bulk_c=(weighted[0] + weighted[1] + weighted[2] + weighted[3] + weighted[4]) / total,
            bed_c=(heat.high_c + heat.mid_c + heat.low_c) / 3.0,
            bottom_c=heat.bottom_c,
            element_c=heat.element_c,
            probe_c=heat.probe_c,
            volume_l=volume_l,
            boiling=matter.boil_kg_per_s > 0.0,
            boil_c=boil_c(self.body, matter.water_kg, matter.extract_kg),
            extract_kg=matter.extract_kg,
            foam_fraction=self._foam_fraction(volume_l),
            grain_in=matter.basket is Basket.IN,
            lid_on=setting.lid_on,
            basket=matter.basket.value,
            fermenter_l=litres(fermenter_water_kg, matter.fermenter_extract_kg),
            electric_j=sums.electric_j,
            evaporated_kg=sums.evaporated_kg,
            boiled_over_l=sums.boiled_over_l,
            chiller_out_c=heat.chiller_out_c,
        )

    def _foam_fraction(self, volume_l: float) -> float:
        heat, matter, _ = self._scene.plant
        if matter.foam_l == 0.0:
            return 0.0
        malt_kg = matter.malt_kg if matter.basket is Basket.IN else 0.0
        room_l = foam.headspace_l(self.body, volume_l, 0.5 * (heat.top_c + heat.low_c), malt_kg)
        return min(matter.foam_l / room_l, 1.0) if room_l > 0.0 else 1.0

    def inputs_now(self) -> BoardInputs:
        """What the switches and the flow sensor say."""
        matter = self._scene.plant.matter
        volume_l = litres(matter.water_kg, matter.extract_kg)
        low_l = under_basket_litres(self.body, matter) if matter.basket is Basket.IN else volume_l
        return BoardInputs(
            foam=self._foam_fraction(volume_l) > _FOAM_SWITCH_FRACTION,
            level_low=low_l < _LEVEL_SWITCH_FRACTION * self.body.element_cover_l,
            flow=matter.pump_l_per_min > _FLOW_SWITCH_FRACTION * self.body.pump_l_per_min,
        )
