"""The brew sheet: one recipe in one kettle on one day, as figures."""

from __future__ import annotations

from dataclasses import dataclass

from kettlebridge.brewing import alcohol, colour
from kettlebridge.brewing.carbonation import priming_sucrose_g
from kettlebridge.brewing.day import Day
from kettlebridge.brewing.day_energy import day_kwh
from kettlebridge.brewing.extract import EXTRACT_L_PER_KG, plato_of
from kettlebridge.brewing.gravity import WATER_20_C_KG_PER_L, sg
from kettlebridge.brewing.hop_plan import HopLine, hop_lines
from kettlebridge.brewing.marks import Mark, marks
from kettlebridge.brewing.timetable import (
    SPARGE_READY_MIN,
    Phase,
    Slot,
    chilled_c,
    climb_vapour_l,
    heat_can_boil,
    pot_min,
    timetable,
)
from kettlebridge.brewing.volumes import Losses, Volumes, volumes
from kettlebridge.brewing.water_plan import (
    LiftWeight,
    Strike,
    WaterPlan,
    infusion_c,
    lift_weight,
    strike,
    water_plan,
)
from kettlebridge.brewing.yeast import ALE_MILLION_PER_ML_PLATO, LAGER_MILLION_PER_ML_PLATO, cells_billion
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.recipe import HopUse, Recipe, YeastKind
from kettlebridge.model.units import G_PER_KG

RATES = {YeastKind.ALE: ALE_MILLION_PER_ML_PLATO, YeastKind.LAGER: LAGER_MILLION_PER_ML_PLATO}
SOAKED = frozenset({HopUse.FIRST_WORT, HopUse.BOIL, HopUse.STAND})
"""Uses whose hops stay behind in the kettle, wet."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gravities:
    """Plato before and after the boil; what goes into the fermenter is the latter. Specific gravities at 20/20 °C."""

    pre_boil_plato: float
    post_boil_plato: float
    final_sg: float
    alcohol_percent: float

    @property
    def pre_boil_sg(self) -> float:
        """Before the boil."""
        return sg(self.pre_boil_plato)

    @property
    def original_sg(self) -> float:
        """Into the fermenter."""
        return sg(self.post_boil_plato)


@dataclass(frozen=True, slots=True, kw_only=True)
class Infusion:
    """Hot water for the rest called `rest`; litres at 20 °C. `pot_begin_min` counts like the slots."""

    rest: str
    litres: float
    water_c: float
    pot_begin_min: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """All that a brewer is told beforehand. `recipe` is the one scaled to this kettle and day.

    `sparge_pot_begin_min` counts like the slots. `cells_needed_billion` and `priming_g` are for the volume into the
    fermenter; the latter is sugar for bottling, beer never warmer than `chilled_c`, None where the recipe names no gas.
    """

    recipe: Recipe
    kettle: Kettle
    day: Day
    litres: Volumes
    water: WaterPlan
    strike: Strike | None
    infusions: tuple[Infusion, ...]
    lift: LiftWeight | None
    marks: tuple[Mark, ...]
    gravities: Gravities
    hops: tuple[HopLine, ...]
    bitterness_ibu: float
    colour_ebc: float
    cells_needed_billion: float
    priming_g: float | None
    chilled_c: float
    slots: tuple[Slot, ...]
    sparge_pot_begin_min: float | None
    energy_kwh: float


def brew_sheet(recipe: Recipe, kettle: Kettle, day: Day) -> Sheet:
    """Works out the day. Raises ValueError where there is no such day: extract without water, a heater without heat."""
    litres = volumes(recipe.batch_l, _losses(recipe, kettle, day))
    plan = water_plan(recipe, kettle, litres, day)
    gravities = _gravities(recipe, litres)
    struck = strike(plan, kettle, day, recipe.mash.rests[0].at_c) if recipe.mash is not None else None
    lift = lift_weight(plan, kettle, gravities.pre_boil_plato) if recipe.mash is not None else None
    hottest_c = min(struck.water_c, kettle.boil_c) if struck is not None else None
    slots = timetable(recipe, kettle, day, (plan, litres), hottest_c)
    mean_sg = (gravities.pre_boil_sg + gravities.original_sg) / 2.0
    hops = hop_lines(recipe, kettle.boil_c, mean_sg, litres.post_boil_l)
    bitterness_ibu = 0.0
    for line in hops:
        bitterness_ibu += line.bitterness_ibu
    return Sheet(
        recipe=recipe,
        kettle=kettle,
        day=day,
        litres=litres,
        water=plan,
        strike=struck,
        infusions=_infusions(recipe, kettle, plan, day, slots),
        lift=lift,
        marks=marks(recipe, kettle, day, (plan, litres)),
        gravities=gravities,
        hops=hops,
        bitterness_ibu=bitterness_ibu,
        colour_ebc=_colour_ebc(recipe, litres.post_boil_l),
        cells_needed_billion=cells_billion(recipe.batch_l, gravities.post_boil_plato, RATES[recipe.yeast.kind]),
        priming_g=_priming_g(recipe, day),
        chilled_c=chilled_c(recipe, day),
        slots=slots,
        sparge_pot_begin_min=_sparge_pot_begin_min(recipe, plan, day, slots),
        energy_kwh=day_kwh(recipe, kettle, day, (plan, litres), hottest_c),
    )


def _losses(recipe: Recipe, kettle: Kettle, day: Day) -> Losses:
    grain_kg, added_l, hops_g = 0.0, 0.0, 0.0
    for each in recipe.mashed:
        grain_kg += each.kg
    for each in recipe.dissolved:
        added_l += EXTRACT_L_PER_KG * each.extract_kg + each.kg * each.moisture_fraction / WATER_20_C_KG_PER_L
    for hop in recipe.hops:
        hops_g += hop.grams if hop.use in SOAKED else 0.0
    return Losses(
        dead_space_l=kettle.dead_space_l,
        boil_off_l_per_h=min(kettle.boil_off_l_per_h, heat_can_boil(kettle, day)),
        boil_min=recipe.boil_min,
        absorption_l_per_kg=kettle.grain_absorption_l_per_kg,
        grain_kg=grain_kg,
        added_l=added_l,
        climb_vapour_l=climb_vapour_l(kettle, day),
        hops_kg=hops_g / G_PER_KG,
    )


def _gravities(recipe: Recipe, litres: Volumes) -> Gravities:
    mashed_kg, dissolved_kg = 0.0, 0.0
    for each in recipe.mashed:
        mashed_kg += each.extract_kg
    for each in recipe.dissolved:
        dissolved_kg += each.extract_kg
    mashed_kg *= recipe.efficiency_fraction
    post_boil_plato = plato_of(mashed_kg + dissolved_kg, litres.post_boil_l)
    final_sg = alcohol.final_sg(sg(post_boil_plato), recipe.yeast.attenuation_fraction)
    return Gravities(
        pre_boil_plato=plato_of(mashed_kg, litres.pre_boil_l),
        post_boil_plato=post_boil_plato,
        final_sg=final_sg,
        alcohol_percent=alcohol.alcohol_by_volume(sg(post_boil_plato), final_sg),
    )


def _colour_ebc(recipe: Recipe, volume_l: float) -> float:
    kg_lovibond = 0.0
    for each in recipe.fermentables:
        kg_lovibond += each.kg * colour.lovibond(each.colour_ebc)
    return colour.ebc(colour.beer_srm(colour.mcu(kg_lovibond, volume_l)))


def _priming_g(recipe: Recipe, day: Day) -> float | None:
    wanted = recipe.targets.carbonation_volumes
    return None if wanted is None else priming_sucrose_g(recipe.batch_l, wanted, chilled_c(recipe, day))


def _sparge_pot_begin_min(recipe: Recipe, plan: WaterPlan, day: Day, slots: tuple[Slot, ...]) -> float | None:
    """When the other pot is put on so that its water is hot a little before the lift; None without a sparge."""
    if recipe.mash is None or not plan.sparge_l:
        return None
    lift_min = next(slot.begin_min for slot in slots if slot.phase is Phase.LIFT)
    return max(lift_min - SPARGE_READY_MIN - pot_min(plan.sparge_l, day, recipe.mash.sparge_c), 0.0)


def _infusions(
    recipe: Recipe, kettle: Kettle, plan: WaterPlan, day: Day, slots: tuple[Slot, ...]
) -> tuple[Infusion, ...]:
    """In their order; each with the time at which its pot is put on."""
    if recipe.mash is None:
        return ()
    water_c = infusion_c(recipe.mash, kettle)
    begins = iter([slot.begin_min for slot in slots if slot.phase is Phase.INFUSE])
    return tuple(
        Infusion(
            rest=rest.name,
            litres=litres,
            water_c=water_c,
            pot_begin_min=max(next(begins) - pot_min(litres, day, water_c), 0.0),
        )
        for rest, litres in zip(recipe.mash.rests, plan.infusions_l, strict=True)
        if litres
    )
