"""The brewer's acts: values, and for each what it does to the scene and what must be true for it to make sense.

Litres are those at 20 °C. An act that makes no sense raises ``ValueError`` with a sentence for people.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import NamedTuple, TypeAlias

from kettlesim.plant import acts
from kettlesim.plant.body import Body
from kettlesim.plant.state import WATER_L_PER_KG, Basket, PlantInputs, PlantState, litres

_LEAST_MASH_L_PER_KG = 1.0


@dataclass(frozen=True, slots=True)
class AddWater:
    """Pour water into the kettle; what does not fit runs over."""

    litres: float
    temp_c: float


@dataclass(frozen=True, slots=True)
class GrainIn:
    """Put the basket in and the malt into it."""

    kg: float
    temp_c: float


@dataclass(frozen=True, slots=True)
class SetLid:
    """Put the lid on, or take it off."""

    on: bool


@dataclass(frozen=True, slots=True)
class LiftBasket:
    """Lift the basket and hang it over the kettle to drain."""


@dataclass(frozen=True, slots=True)
class Sparge:
    """Pour water over the lifted basket."""

    litres: float
    temp_c: float


@dataclass(frozen=True, slots=True)
class BasketAway:
    """Carry the lifted basket away."""


@dataclass(frozen=True, slots=True)
class AddSugar:
    """Sugar or extract, at room temperature, dissolved at once."""

    kg: float


@dataclass(frozen=True, slots=True)
class AddHops:
    """Hops, which make a boiling wort foam up."""

    grams: float


@dataclass(frozen=True, slots=True)
class Stir:
    """Stir thoroughly: it evens out temperatures, loosens a stuck bed and knocks foam down."""


@dataclass(frozen=True, slots=True)
class StartChiller:
    """Open the cooling water."""

    water_c: float
    flow_l_per_min: float


@dataclass(frozen=True, slots=True)
class StopChiller:
    """Shut the cooling water."""


@dataclass(frozen=True, slots=True)
class StartTransfer:
    """Turn the outlet to the fermenter: the wort runs there, faster with the pump on."""


@dataclass(frozen=True, slots=True)
class StopTransfer:
    """Turn the outlet back."""


@dataclass(frozen=True, slots=True)
class DrawOff:
    """Let some out of the tap, at once."""

    litres: float


@dataclass(frozen=True, slots=True)
class Drain:
    """Let everything out, at once."""


@dataclass(frozen=True, slots=True)
class StickBed:
    """Let the bed compact: it passes ``1 - fraction`` of what it would, until stirred."""

    fraction: float


Act: TypeAlias = (
    AddWater
    | GrainIn
    | SetLid
    | LiftBasket
    | Sparge
    | BasketAway
    | AddSugar
    | AddHops
    | Stir
    | StartChiller
    | StopChiller
    | StartTransfer
    | StopTransfer
    | DrawOff
    | Drain
    | StickBed
)


class Scene(NamedTuple):
    """What an act may change: the plant, and how things are set around it until the next act."""

    plant: PlantState
    setting: PlantInputs


def _require(holds: bool, sentence: str) -> None:
    if not holds:
        raise ValueError(sentence)


def _liquid_l(scene: Scene) -> float:
    return litres(scene.plant.matter.water_kg, scene.plant.matter.extract_kg)


@functools.singledispatch
def done(act: Act, body: Body, scene: Scene) -> Scene:
    """The scene after ``act``; ``ValueError`` where it makes no sense, ``TypeError`` for what is no act."""
    raise TypeError(f"{type(act).__name__} is not a brewer's act")


@done.register
def _(act: AddWater, body: Body, scene: Scene) -> Scene:
    _require(act.litres > 0.0, "There is no water to add.")
    return scene._replace(plant=acts.add(body, scene.plant, act.litres / WATER_L_PER_KG, 0.0, act.temp_c))


@done.register
def _(act: GrainIn, body: Body, scene: Scene) -> Scene:
    _require(act.kg > 0.0, "There is no malt to put in.")
    _require(scene.plant.matter.basket is Basket.OUT, "There is grain in the basket already.")
    _require(not scene.setting.lid_on, "The lid is on: take it off before the grain goes in.")
    enough = _liquid_l(scene) >= _LEAST_MASH_L_PER_KG * act.kg
    _require(enough, "There is too little water in the kettle to wet the malt.")
    return scene._replace(plant=acts.grain_in(body, scene.plant, act.kg, act.temp_c))


@done.register
def _(act: SetLid, body: Body, scene: Scene) -> Scene:
    lifted = scene.plant.matter.basket is Basket.LIFTED
    _require(not (act.on and lifted), "The lid does not go on while the basket hangs over the kettle.")
    return scene._replace(setting=scene.setting._replace(lid_on=act.on))


@done.register
def _(act: LiftBasket, body: Body, scene: Scene) -> Scene:
    _require(scene.plant.matter.basket is Basket.IN, "There is no basket in the kettle to lift.")
    _require(not scene.setting.lid_on, "The lid is on: take it off before lifting the basket.")
    return scene._replace(plant=acts.lift_basket(body, scene.plant))


@done.register
def _(act: Sparge, body: Body, scene: Scene) -> Scene:
    _require(act.litres > 0.0, "There is no water to sparge with.")
    _require(scene.plant.matter.basket is Basket.LIFTED, "The basket is not lifted, so there is nothing to sparge.")
    return scene._replace(plant=acts.sparge(body, scene.plant, act.litres / WATER_L_PER_KG, act.temp_c))


@done.register
def _(act: BasketAway, body: Body, scene: Scene) -> Scene:
    _require(scene.plant.matter.basket is Basket.LIFTED, "The basket is not lifted, so it cannot be taken away.")
    return scene._replace(plant=acts.basket_away(body, scene.plant))


@done.register
def _(act: AddSugar, body: Body, scene: Scene) -> Scene:
    _require(act.kg > 0.0, "There is no sugar to add.")
    _require(_liquid_l(scene) > act.kg, "There is too little in the kettle to dissolve the sugar.")
    return scene._replace(plant=acts.add(body, scene.plant, 0.0, act.kg, scene.setting.ambient_c))


@done.register
def _(act: AddHops, body: Body, scene: Scene) -> Scene:
    _require(act.grams > 0.0, "There are no hops to add.")
    return scene._replace(plant=acts.add_hops(scene.plant, act.grams))


@done.register
def _(act: Stir, body: Body, scene: Scene) -> Scene:
    return scene._replace(plant=acts.stir(body, scene.plant))


@done.register
def _(act: StartChiller, body: Body, scene: Scene) -> Scene:
    _require(act.flow_l_per_min > 0.0, "The cooling water does not flow.")
    setting = scene.setting._replace(coolant_c=act.water_c, coolant_l_per_min=act.flow_l_per_min)
    return scene._replace(setting=setting)


@done.register
def _(act: StopChiller, body: Body, scene: Scene) -> Scene:
    _require(scene.setting.coolant_l_per_min > 0.0, "The cooling water is shut already.")
    return scene._replace(setting=scene.setting._replace(coolant_l_per_min=0.0))


@done.register
def _(act: StartTransfer, body: Body, scene: Scene) -> Scene:
    _require(scene.plant.matter.basket is not Basket.IN, "The grain is still in the kettle.")
    _require(not scene.setting.transfer_open, "The wort is running into the fermenter already.")
    return scene._replace(setting=scene.setting._replace(transfer_open=True))


@done.register
def _(act: StopTransfer, body: Body, scene: Scene) -> Scene:
    _require(scene.setting.transfer_open, "No wort is running into the fermenter.")
    return scene._replace(setting=scene.setting._replace(transfer_open=False))


@done.register
def _(act: DrawOff, body: Body, scene: Scene) -> Scene:
    _require(0.0 < act.litres <= _liquid_l(scene), "The kettle does not hold that much.")
    return scene._replace(plant=acts.take(body, scene.plant, act.litres, from_bottom=True))


@done.register
def _(act: Drain, body: Body, scene: Scene) -> Scene:
    _require(scene.plant.matter.basket is not Basket.IN, "Lift the basket before draining the kettle.")
    return scene._replace(plant=acts.take(body, scene.plant, _liquid_l(scene), from_bottom=True))


@done.register
def _(act: StickBed, body: Body, scene: Scene) -> Scene:
    _require(0.0 <= act.fraction <= 1.0, "A bed sticks by a fraction from 0 to 1.")
    _require(scene.plant.matter.basket is Basket.IN, "There is no bed to stick.")
    return scene._replace(plant=acts.stick_bed(scene.plant, act.fraction))
