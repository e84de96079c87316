"""One member of the family: a true kettle and its day, and what its owner believes of it."""

from __future__ import annotations

import random
from dataclasses import dataclass

from kettlebridge.brewing.mash import GRAIN_ROOM_L_PER_KG
from kettlebridge.brewing.water import WATER_J_PER_KG_K
from kettlebridge.core.heat import MALT_J_PER_KG_K
from kettlebridge.files.kettle_file import default_loss_w_per_k
from kettlebridge.model.ids import KettleId, ProbeName
from kettlebridge.model.kettle import ChillWay, HeaterDrive, Kettle, Probe, ProbeRole, Safety
from kettlebridge.model.reading import BoardInput
from kettlesim.family import drawn_body
from kettlesim.plant.body import Body

REST_C = 66.0
MASH_OUT_C = 72.0
FULLEST_FRACTION = 0.93
LANDS_UNDER_C = 0.5
SLAKING_J_PER_KG = 15_000.0
"""Wetting dry malt warms the mash: the middle of what is said of it, 8-22 kJ/kg."""

NAMEPLATE_ERROR = 0.07
LITRES_ERROR = 0.05
UNDER_BASKET_ERROR = 0.20
FLOW_ERROR = 0.30
"""Relative, each way, evenly: what an owner reads off a plate, a jug and a pump's box (estimates, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """`body` and the conditions are true; `kettle` and `litres_believed` are what is told. Litres at 20 °C."""

    number: int
    seed: int
    body: Body
    kettle: Kettle
    litres: float
    litres_believed: float
    grain_kg: float
    water_c: float
    grain_c: float
    ambient_c: float
    mains_fraction: float
    strike_c: float


def drawn(number: int, seed: int) -> Member:
    """The member of that number in the family of that seed: the same one every time."""
    rng = random.Random(f"{seed}/{number}")  # noqa: S311  # kettles, not secrets
    body = drawn_body(rng)
    ratio_l_per_kg = rng.uniform(2.8, 4.5)
    full_l = body.capacity_l * rng.uniform(0.65, FULLEST_FRACTION)
    grain_kg = full_l / (ratio_l_per_kg + GRAIN_ROOM_L_PER_KG)
    litres = ratio_l_per_kg * grain_kg
    grain_c = rng.uniform(10.0, 25.0)
    litres_believed = litres * _off(rng, LITRES_ERROR)
    return Member(
        number=number,
        seed=seed,
        body=body,
        kettle=_believed(number, body, rng),
        litres=litres,
        litres_believed=litres_believed,
        grain_kg=grain_kg,
        water_c=rng.uniform(6.0, 22.0),
        grain_c=grain_c,
        ambient_c=rng.uniform(8.0, 28.0),
        mains_fraction=rng.uniform(0.92, 1.06),
        strike_c=_strike_c(grain_kg, grain_c, litres_believed),
    )


def _strike_c(grain_kg: float, grain_c: float, litres_believed: float) -> float:
    """What lands the mash a little under the rest: a heater can mend that, and nothing mends a mash that is too hot."""
    landing_c = REST_C - LANDS_UNDER_C
    grain_j = grain_kg * (MALT_J_PER_KG_K * (landing_c - grain_c) - SLAKING_J_PER_KG)
    return landing_c + grain_j / (WATER_J_PER_KG_K * litres_believed)


def _off(rng: random.Random, error: float) -> float:
    return rng.uniform(1.0 - error, 1.0 + error)


def _believed(number: int, body: Body, rng: random.Random) -> Kettle:
    """The kettle file: what plates say, what a jug measured, and defaults for what nobody knows."""
    boil_c = body.saturation_c
    return Kettle(
        name=KettleId(f"family_{number}"),
        capacity_l=body.capacity_l,
        heater_w=body.heater_w * _off(rng, NAMEPLATE_ERROR),
        mains_v=230.0,
        boil_c=boil_c,
        element_cover_l=body.element_cover_l,
        under_basket_l=body.under_basket_l * _off(rng, UNDER_BASKET_ERROR),
        loss_w_per_k=default_loss_w_per_k(body.capacity_l),
        boil_off_l_per_h=1.0,
        dead_space_l=body.dead_space_l,
        grain_absorption_l_per_kg=body.absorption_l_per_kg,
        basket_kg=1.0,
        probe_delay_s=20.0,
        pump_l_per_min=body.pump_l_per_min * _off(rng, FLOW_ERROR),
        chill=ChillWay(body.chill.value),
        drive=HeaterDrive(body.switch.value),
        has_pump=True,
        has_main_contactor=False,
        probes=(Probe(name=ProbeName("control"), source="control", role=ProbeRole.CONTROL),),
        inputs=BoardInput.NONE,
        safety=Safety(limit_c=boil_c + 2.0),
    )
